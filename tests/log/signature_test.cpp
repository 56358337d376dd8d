// Who stands for a job: Ed25519 signatures on its seal, which nobody else can make.
#include <fmt/format.h>
#include <sys/stat.h>

#include <catch2/catch.hpp>

#include "counterspot/log/seal.hpp"
#include "counterspot/log/signature.hpp"
#include "counterspot/sheet/sheet.hpp"
#include "counterspot/sheet/verify.hpp"
#include "databases.hpp"
#include "log/sha256.hpp"
#include "support.hpp"

using namespace counterspot;
using namespace counterspot::test;

namespace {

const std::string program = "counterspot 0.1.0";
const SigningKey inspector = new_signing_key("A. Fenn");

Job signed_job(Log& log, const SigningKey& key = inspector) {
  const Job job = whole_job(log, opening_of());
  return log.append(job, signed_with(key, job.seal, some_day + 600), program, some_day + 600);
}

std::string bytes_of(const std::string& hex) {
  std::string bytes;
  for (std::size_t i = 0; i < hex.size(); i += 2) bytes += static_cast<char>(std::stoi(hex.substr(i, 2), nullptr, 16));
  return bytes;
}

/// What somebody makes of a job who can write the log and knows how entries are sealed, but has no key.
Job forged(Job job) {
  std::get<Spun>(job.events[4].what).readings[0].value /= 2.0;
  job.seal = seal_of(job);
  return job;
}

}  // namespace

TEST_CASE("a signature is that of RFC 8032") {
  // RFC 8032, section 7.1, tests 2 and 3: secret key, public key, message, signature.
  const char* const vectors[][4] = {{"4ccd089b28ff96da9db6c346ec114e0f5b8a319f35aba624da8cf6ed4fb8a6fb",
                                     "3d4017c3e843895a92b70aa74d1b7ebc9c982ccf2ec4968cc0cd55f12af4660c", "72",
                                     "92a009a9f0d4cab8720e820b5f642540a2b27b5416503f8fb3762223ebdb69da"
                                     "085ac1e43e15996e458f3613d0f11d8c387b2eaeb4302aeeb00d291612bb0c00"},
                                    {"c5aa8df43f9f837bedb7442f31dcb7b166d38535076f094b85ce3a2e0b4458f7",
                                     "fc51cd8e6218a1a38da47ed00230f0580816ed13ba3303ac5deb911548908025", "af82",
                                     "6291d657deec24024827e69c3abe01a30ce548a284743a445e3680d7db5ac3ac"
                                     "18ff9b538d16f290ae67f760984dc6594a7c15e9716ed28dc027beceea1ec40a"}};
  for (const auto& [secret, shared, message, signature] : vectors) {
    SigningKey key{"of the RFC", {}};
    const std::string bytes = bytes_of(secret);
    std::copy(bytes.begin(), bytes.end(), key.secret.begin());
    CHECK(public_key_of(key) == shared);
    CHECK(signature_of(key, bytes_of(message)) == bytes_of(signature));
    CHECK(is_signature(bytes_of(signature), bytes_of(message), shared));
    CHECK_FALSE(is_signature(bytes_of(signature), bytes_of(message) + "x", shared));
    CHECK_FALSE(is_signature("", bytes_of(message), shared));
    CHECK_FALSE(is_signature(bytes_of(signature), bytes_of(message), ""));
    CHECK_FALSE(is_signature(bytes_of(signature), bytes_of(message), std::string(64, 'x')));
  }
}

TEST_CASE("a key is read back, only its owner may read it, and no other one is written over") {
  const TemporaryFolder folder;
  const auto file = folder / "fenn.key";
  keep_signing_key(inspector, file);
  CHECK(signing_key_in(file).name == "A. Fenn");
  CHECK(signing_key_in(file).secret == inspector.secret);
  CHECK(public_key_in(file.string() + ".pub") == public_key_of(inspector));
  struct stat status {};
  REQUIRE(::stat(file.c_str(), &status) == 0);
  CHECK((status.st_mode & 0777U) == 0600U);
  CHECK(code_of([&] { keep_signing_key(new_signing_key("B. Rook"), file); }) == "file_exists");
  CHECK(signing_key_in(file).secret == inspector.secret);
  CHECK(code_of([&] { public_key_in(file); }) == "bad_key");
  CHECK(code_of([&] { signing_key_in(file.string() + ".pub"); }) == "bad_key");
  const std::string text = read_file(file);
  const auto write = [&](const std::string& changed) { return write_file(folder / "other.key", changed); };
  CHECK(code_of([&] { signing_key_in(write(text.substr(text.find("-----")))); }) == "bad_name");
  CHECK(code_of([&] { signing_key_in(write(text.substr(0, text.size() / 2))); }) == "bad_key");
  CHECK(code_of([&] { signing_key_in(write("")); }) == "bad_key");
  CHECK(code_of([&] { new_signing_key(""); }) == "bad_name");
  CHECK(code_of([&] { new_signing_key("A.\nFenn"); }) == "bad_name");
}

TEST_CASE("a closed job is signed, and everyone who has the public key can see by whom") {
  const Place place(GENERATE(Kind::sqlite, Kind::postgresql));
  Log log = Log::open(place.text(), true);
  const Job job = signed_job(log);
  CHECK(log.check().faults.empty());
  CHECK(job_to_json_line(log.job(job.name)) == job_to_json_line(job));
  const DemandedProof by_inspector{"", public_key_of(inspector), ""};
  const Verified found = verified_job(job.name, log, by_inspector);
  CHECK(found.faults.empty());
  REQUIRE(found.signatures.size() == 1);
  CHECK(std::get<Signed>(found.signatures.front().what).by == "A. Fenn");
  CHECK(verified_export(job_to_json_line(job), by_inspector).front().faults.empty());
  const DemandedProof by_other{"", public_key_of(new_signing_key("A. Fenn")), ""};  // who only has the same name
  CHECK(verified_job(job.name, log, by_other).faults.size() == 1);
  CHECK(verified_export(job_to_json_line(job), by_other).front().faults.size() == 1);
}

TEST_CASE("what is said of the order behind a signature is not signed by it, and can be signed anew") {
  const Place place(GENERATE(Kind::sqlite, Kind::postgresql));
  Log log = Log::open(place.text(), true);
  Job job = signed_job(log);
  WorkOrder order;
  order.customer = "Marrow Creek";
  job = log.append(job, Ordered{order}, program, some_day + 700);
  const DemandedProof by_inspector{"", public_key_of(inspector), ""};
  CHECK(verified_job(job.name, log, by_inspector).faults.size() == 1);
  CHECK(log.check().faults.empty());
  job = log.append(job, signed_with(inspector, job.seal, some_day + 800), program, some_day + 800);
  CHECK(verified_job(job.name, log, by_inspector).faults.empty());
}

TEST_CASE("a signature goes with its job into another log, as lines and as a table") {
  const Place place(Kind::sqlite);
  Log log = Log::open(place.text(), true);
  const Job job = signed_job(log);
  const Place other(Kind::postgresql);
  Log copy = Log::open(other.text(), true);
  TableColumns columns = log_columns();
  for (const TableRow& row : rows_of(job)) columns.add(row);
  std::string table = columns.head();
  for (const TableRow& row : rows_of(job)) table += columns.line(row);
  CHECK(job_to_json_line(jobs_of_csv(table).front()) == job_to_json_line(job));
  CHECK(copy.import_job(job_of_json_line(job_to_json_line(job))) == 7);
  CHECK(verified_job(job.name, copy, {"", public_key_of(inspector), ""}).faults.empty());
}

TEST_CASE("who seals anew what was changed cannot sign it, and no log takes it") {
  const Place place(Kind::sqlite);
  Log log = Log::open(place.text(), true);
  const Job job = forged(signed_job(log));
  CHECK(seal_of(job) == job.seal);
  CHECK(verified_export(job_to_json_line(job), {}).front().faults.size() == 1);
  const Place other(Kind::sqlite);
  CHECK(code_of([&] { Log::open(other.text(), true).import_job(job); }) == "bad_signature");
}

TEST_CASE("a log that was written anew with all seals and links is found by its signatures") {
  const Kind kind = GENERATE(Kind::sqlite, Kind::postgresql);
  const std::string bytes = kind == Kind::sqlite ? "x" : "";  // as src/log/schema.cpp has the columns
  const Place place(kind);
  Log log = Log::open(place.text(), true);
  const Job job = signed_job(log);
  const std::vector<LogLink> links = log.links_of(job);
  const std::vector<std::string> seals = seals_of(forged(job));
  std::string statements =
      "UPDATE readings SET value_re = value_re / 2, value_im = value_im / 2 WHERE number = 5 AND n = 0;";
  std::string before = links[4].sha256;
  for (std::size_t i = 5; i < seals.size(); ++i) {  // as src/log/chain.cpp links them
    before = sha256_of(fmt::format("{}\n{}\n{}\n\n{}\n{}", before, links[i].number, job.uid, i, seals[i]));
    statements += fmt::format("UPDATE chain SET seal = {0}'{1}', link = {0}'{2}' WHERE number = {3};", bytes, seals[i],
                              before, links[i].number);
  }
  run_sql(place.text(), statements);
  CHECK(log.check().faults ==
        std::vector<std::string>{"job PS-1042/1: entry 7 does not sign what stands before it: that was changed, or "
                                 "somebody else than A. Fenn made the signature"});
  CHECK(code_of([&] { log.job(job.name); }) == "log_altered");
}

TEST_CASE("only a closed job is signed, by each once, with what stands there") {
  const Place place(Kind::sqlite);
  Log log = Log::open(place.text(), true);
  Job job = log.append(log.open_job(opening_of("PS-2")), spin_of("as found"), program, some_day);
  const auto sign = [&](const SigningKey& key, const std::string& seal) {
    job = log.append(job, signed_with(key, seal, some_day + 9), program, some_day + 9);
  };
  CHECK(code_of([&] { sign(inspector, job.seal); }) == "not_closed");
  job = log.append(job, Closed{{}, {}, "the tube is dented"}, program, some_day);
  CHECK(code_of([&] { sign(inspector, opening_seal(job)); }) == "bad_signature");
  CHECK(code_of([&] { log.append(job, signed_with(inspector, job.seal, some_day), program, some_day + 1); }) ==
        "bad_signature");  // of another time
  sign(inspector, job.seal);
  CHECK(code_of([&] { sign(inspector, job.seal); }) == "already_signed");
  sign(new_signing_key("bay 2"), job.seal);
  CHECK(state_of(job.events).signatures == std::vector<int>{3, 4});
  CHECK(log.check().faults.empty());
  CHECK(code_of([&] { log.append(job, TakenBack{3, "not I"}, program, some_day + 10); }) == "is_signature");
}

TEST_CASE("a job that went on after it was signed is signed no longer") {
  const Place place(Kind::sqlite);
  Log log = Log::open(place.text(), true);
  Job job = signed_job(log);
  job = log.append(job, TakenBack{6, "closed too early"}, program, some_day + 700);
  CHECK(state_of(job.events).signatures.empty());
  const DemandedProof by_inspector{"", public_key_of(inspector), ""};
  CHECK(verified_job(job.name, log, by_inspector).faults.size() == 1);
  job = log.append(job, Closed{5, finding_within(), ""}, program, some_day + 800);
  CHECK(state_of(job.events).signatures.empty());
  job = log.append(job, signed_with(inspector, job.seal, some_day + 900), program, some_day + 900);
  CHECK(state_of(job.events).signatures == std::vector<int>{10});
  CHECK(verified_job(job.name, log, by_inspector).faults.empty());
  CHECK(log.check().faults.empty());
}

TEST_CASE("a sheet is held against an export where there is no log") {
  const Place place(Kind::sqlite);
  Log log = Log::open(place.text(), true);
  const Job job = signed_job(log);
  const DemandedProof by_inspector{"", public_key_of(inspector), ""};
  const std::string sheet = sheet_json(sheet_of(log, job.name));
  const Exported exported = exported_in(job_to_json_line(job));
  CHECK(verified_sheet(sheet, exported, by_inspector).faults.empty());
  std::string changed = sheet;
  const std::string within = "\"verdict\":\"within\"";
  changed.replace(changed.find(within), within.size(), "\"verdict\":\"unsure\"");
  CHECK(verified_sheet(changed, exported, by_inspector).faults.size() == 1);
  CHECK(verified_sheet(sheet, {{forged(job)}, {}}, by_inspector).faults.size() > 1);
  CHECK(code_of([&] { verified_sheet(sheet, Exported{}, by_inspector); }) == "no_such_job");
}

TEST_CASE("an export that was signed as a whole lacks no job and no byte") {
  const Place place(Kind::sqlite);
  Log log = Log::open(place.text(), true);
  const std::string first = job_to_json_line(whole_job(log, opening_of())) + "\n";
  const std::string both = first + job_to_json_line(whole_job(log, opening_of("PS-2"))) + "\n";
  const DemandedProof expected{"", public_key_of(inspector), signature_of(inspector, both)};
  const auto found = verified_export(both, expected);
  CHECK(found.size() == 3);  // the file, and its jobs, which need no signatures of their own
  for (const Verified& each : found) CHECK(each.faults.empty());
  CHECK(verified_export(first, expected).front().faults.size() == 1);
  CHECK(code_of([&] { verified_export(both, {"", "", expected.file_signature}); }) == "no_key");
}
