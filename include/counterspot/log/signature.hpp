#pragma once

#include <array>
#include <cstdint>
#include <filesystem>
#include <string>
#include <string_view>
#include <vector>

#include "counterspot/job/job.hpp"

namespace counterspot {

/// Who stands for a job, or for an export: Ed25519 signatures (RFC 8032). A seal shows that entries were changed only
/// to who knows the seal from elsewhere; a signature on it shows that to everyone who has the signer's public key,
/// without the log. A job is signed by an entry behind its close, so that the signature goes wherever the job goes.

/// What only its owner has. Files of keys are PEM (RFC 7468): the secret one is PKCS #8, the public one
/// SubjectPublicKeyInfo (both RFC 8410), each below a line "Name: …" that says whose it is.
struct SigningKey {
  std::string name;
  std::array<std::uint8_t, 32> secret{};
};

/// From the system's random numbers. @throws Error(request, "bad_name") if the name is empty or has control characters.
SigningKey new_signing_key(const std::string& name);
/// @throws Error(request, …) "bad_key" if there is no such key in the file, "bad_name"; what `text_of_file` does.
SigningKey signing_key_in(const std::filesystem::path& file);
/// 64 hexadecimal digits. @throws Error(request, "bad_key"); what `text_of_file` does.
std::string public_key_in(const std::filesystem::path& file);
std::string public_key_of(const SigningKey& key);

/// Writes the key to a new file that only its owner may read, and its public part beside it, with the ending ".pub".
/// @throws Error(request, "file_exists") whatever stands there; Error(machine, "write_failed").
void keep_signing_key(const SigningKey& key, const std::filesystem::path& file);

/// "3f9a 12cd 55aa 0b1c 9d2e 77f0": the first 96 bits of a public key, to be compared by eye.
std::string key_code(std::string_view public_key);

/// What an entry of that time says that signs the entries that the seal stands for.
Signed signed_with(const SigningKey& key, const std::string& seal, std::int64_t at_unix_s);
/// A sentence for each entry of the job that signs something else than what stands before it.
std::vector<std::string> faults_of_signatures(const Job& job);

/// Of the bytes of a file, as they are: 64 bytes.
std::string signature_of(const SigningKey& key, std::string_view bytes);
bool is_signature(std::string_view signature, std::string_view bytes, std::string_view public_key);

}  // namespace counterspot
