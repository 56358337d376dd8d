#include "counterspot/log/signature.hpp"

#include <fmt/format.h>
#include <nettle/base64.h>
#include <nettle/eddsa.h>
#include <sys/random.h>

#include <algorithm>
#include <charconv>

#include "counterspot/log/log.hpp"
#include "counterspot/log/seal.hpp"
#include "counterspot/units/error.hpp"
#include "files/output_file.hpp"
#include "files/text_file.hpp"

namespace counterspot {

namespace {

using namespace std::string_view_literals;

using KeyBytes = std::array<std::uint8_t, ED25519_KEY_SIZE>;

/// DER up to the 32 bytes of the key, RFC 8410, sections 4 and 7: the algorithm is 1.3.101.112.
constexpr std::string_view before_secret = "\x30\x2e\x02\x01\x00\x30\x05\x06\x03\x2b\x65\x70\x04\x22\x04\x20"sv;
constexpr std::string_view before_public = "\x30\x2a\x30\x05\x06\x03\x2b\x65\x70\x03\x21\x00"sv;
constexpr std::string_view name_line = "Name: ";
constexpr std::size_t longest_key_file = 65536;

struct Pem {
  std::string_view label;
  std::string_view before_key;
};
constexpr Pem secret_pem = {"PRIVATE KEY", before_secret};
constexpr Pem public_pem = {"PUBLIC KEY", before_public};

const std::uint8_t* bytes_of(std::string_view text) {
  return reinterpret_cast<const std::uint8_t*>(text.data());
}

std::string hex_of(std::string_view bytes) {
  std::string text;
  for (const char byte : bytes) text += fmt::format("{:02x}", static_cast<unsigned char>(byte));
  return text;
}

/// Empty if it is no such text.
std::string bytes_of_hex(std::string_view text) {
  std::string bytes(text.size() / 2, '\0');
  for (std::size_t i = 0; i < bytes.size(); ++i) {
    unsigned char byte = 0;
    const char* end = text.data() + 2 * i + 2;
    if (std::from_chars(end - 2, end, byte, 16).ptr != end) return {};
    bytes[i] = static_cast<char>(byte);
  }
  return bytes;
}

KeyBytes public_bytes(const SigningKey& key) {
  KeyBytes bytes{};
  ed25519_sha512_public_key(bytes.data(), key.secret.data());
  return bytes;
}

std::string pem_text(const std::string& name, const Pem& pem, const KeyBytes& key) {
  std::string der(pem.before_key);
  der.append(key.begin(), key.end());
  std::string body(BASE64_ENCODE_RAW_LENGTH(der.size()), '\0');
  base64_encode_raw(body.data(), der.size(), bytes_of(der));
  return fmt::format("{0}{1}\n-----BEGIN {2}-----\n{3}\n-----END {2}-----\n", name_line, name, pem.label, body);
}

Error bad_key(const std::filesystem::path& file, const Pem& pem) {
  const bool secret = pem.label == secret_pem.label;
  return {Trouble::request, "bad_key",
          fmt::format("{}: there is no {} Ed25519 key in this file", file.string(), secret ? "secret" : "public"),
          secret ? "name the file that 'log key' made" : "name the file with the ending .pub that 'log key' made"};
}

KeyBytes key_in(const std::string& text, const Pem& pem, const std::filesystem::path& file) {
  const std::string begin = fmt::format("-----BEGIN {}-----", pem.label);
  const auto from = text.find(begin);
  const auto end = text.find("-----END", from == std::string::npos ? text.size() : from);
  if (end == std::string::npos) throw bad_key(file, pem);
  const std::string_view body = std::string_view(text).substr(0, end).substr(from + begin.size());
  std::string der(BASE64_DECODE_LENGTH(body.size()), '\0');
  std::size_t size = der.size();
  base64_decode_ctx context{};
  base64_decode_init(&context);
  const bool read = base64_decode_update(&context, &size, reinterpret_cast<std::uint8_t*>(der.data()), body.size(),
                                         body.data()) == 1 &&
                    base64_decode_final(&context) == 1;
  der.resize(read ? size : 0);
  if (der.size() != pem.before_key.size() + ED25519_KEY_SIZE || !der.starts_with(pem.before_key))
    throw bad_key(file, pem);
  KeyBytes key{};
  std::copy_n(bytes_of(der) + pem.before_key.size(), key.size(), key.begin());
  return key;
}

void admit_name(const std::string& name, const std::string& where) {
  const bool control = std::any_of(name.begin(), name.end(), [](unsigned char c) { return c < 0x20 || c == 0x7f; });
  if (!name.empty() && !control) return;
  throw Error(Trouble::request, "bad_name", fmt::format("{}: it is not said whose key it is", where),
              "say who signs with it, as in --name \"A. Fenn\"; in a file it stands above the key: Name: A. Fenn");
}

void refuse_standing(const std::filesystem::path& file) {
  std::error_code none;
  if (!std::filesystem::exists(std::filesystem::symlink_status(file, none))) return;
  throw Error(Trouble::request, "file_exists", fmt::format("{}: there is such a file already", file.string()),
              "choose another name; a key is never written over, for nobody could sign with it again");
}

std::string message_of(const std::string& by, const std::string& seal, std::int64_t at_unix_s) {
  return fmt::format("counterspot signature\nseal {}\nat {}\nby {}\n", seal, utc_text(at_unix_s), by);
}

}  // namespace

SigningKey new_signing_key(const std::string& name) {
  admit_name(name, "a new key");
  SigningKey key{name, {}};
  if (::getrandom(key.secret.data(), key.secret.size(), 0) != static_cast<ssize_t>(key.secret.size()))
    throw Error(Trouble::machine, "no_random", "the system gave no random numbers", "try again on another machine");
  return key;
}

SigningKey signing_key_in(const std::filesystem::path& file) {
  const std::string text = text_of_file(file, longest_key_file);
  SigningKey key{"", key_in(text, secret_pem, file)};
  if (const auto at = text.find(name_line); at != std::string::npos && at < text.find("-----BEGIN"))
    key.name = text.substr(at + name_line.size(), text.find('\n', at) - at - name_line.size());
  while (key.name.ends_with('\r') || key.name.ends_with(' ')) key.name.pop_back();
  admit_name(key.name, file.string());
  return key;
}

std::string public_key_in(const std::filesystem::path& file) {
  const KeyBytes key = key_in(text_of_file(file, longest_key_file), public_pem, file);
  return hex_of({reinterpret_cast<const char*>(key.data()), key.size()});
}

std::string public_key_of(const SigningKey& key) {
  const KeyBytes bytes = public_bytes(key);
  return hex_of({reinterpret_cast<const char*>(bytes.data()), bytes.size()});
}

void keep_signing_key(const SigningKey& key, const std::filesystem::path& file) {
  const std::filesystem::path shared = file.string() + ".pub";
  refuse_standing(file);
  refuse_standing(shared);
  write_output(file, pem_text(key.name, secret_pem, key.secret), {Overwrite::nothing, {}, true});
  write_output(shared, pem_text(key.name, public_pem, public_bytes(key)), {});
}

std::string key_code(std::string_view public_key) {
  return seal_code(std::string(public_key));
}

Signed signed_with(const SigningKey& key, const std::string& seal, std::int64_t at_unix_s) {
  return {key.name, public_key_of(key), hex_of(signature_of(key, message_of(key.name, seal, at_unix_s)))};
}

std::vector<std::string> faults_of_signatures(const Job& job) {
  std::vector<std::string> faults;
  const auto signs = [](const Event& event) { return std::holds_alternative<Signed>(event.what); };
  if (std::none_of(job.events.begin(), job.events.end(), signs)) return faults;
  std::string seal = opening_seal(job);
  for (const Event& event : job.events) {
    const auto* made = std::get_if<Signed>(&event.what);
    if (made != nullptr &&
        !is_signature(bytes_of_hex(made->signature), message_of(made->by, seal, event.at_unix_s), made->public_key))
      faults.push_back(
          fmt::format("entry {} does not sign what stands before it: that was changed, or somebody else "
                      "than {} made the signature",
                      event.number, made->by));
    seal = entry_seal(seal, event);
  }
  return faults;
}

std::string signature_of(const SigningKey& key, std::string_view bytes) {
  const KeyBytes shared = public_bytes(key);
  std::string signature(ED25519_SIGNATURE_SIZE, '\0');
  ed25519_sha512_sign(shared.data(), key.secret.data(), bytes.size(), bytes_of(bytes),
                      reinterpret_cast<std::uint8_t*>(signature.data()));
  return signature;
}

bool is_signature(std::string_view signature, std::string_view bytes, std::string_view public_key) {
  const std::string key = bytes_of_hex(public_key);
  return key.size() == ED25519_KEY_SIZE && signature.size() == ED25519_SIGNATURE_SIZE &&
         ed25519_sha512_verify(bytes_of(key), bytes.size(), bytes_of(bytes), bytes_of(signature)) == 1;
}

}  // namespace counterspot
