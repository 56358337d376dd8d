#pragma once

#include <cstdint>
#include <filesystem>
#include <optional>
#include <string>
#include <vector>

#include "counterspot/files/shop.hpp"
#include "counterspot/recording/capture.hpp"
#include "counterspot/units/error.hpp"
#include "counterspot/units/said.hpp"

namespace counterspot {

/// A look at all that the work of a shop rests on, before a shaft shows that something is wrong with it.

enum class Health {
  well,
  noted,   ///< not there or not looked at, and nothing is wrong because of it
  to_mend  ///< work with it goes wrong, or cannot be trusted
};
/// "well", "noted", "to_mend".
std::string_view health_name(Health health);

struct Examined {
  std::string part;  ///< "shop", "rig", "shafts", "stock", "source", "disk", "log", "qualification", "daily_check", …
  Health health = Health::well;
  Said found;                         ///< one sentence without its full stop
  Said mend;                          ///< what to do; empty if there is nothing
  std::optional<Error> trouble = {};  ///< says both instead, as an error is said everywhere
};

struct DoctorAsked {
  std::vector<ShopValue> shop;             ///< what the shop states; what is missing is not looked at
  std::optional<Error> shop_trouble = {};  ///< why nothing can be read of it
  std::string log;                         ///< a file, or "postgresql://…"
  std::string source;                      ///< as open_live takes it; empty: none is known
  LiveOptions live = {};
  double seconds = 2.0;  ///< how long the source is listened to, > 0
  std::int64_t now_unix_s = 0;
  std::string lettering;                   ///< the font that pictures are lettered with
  std::optional<Error> no_lettering = {};  ///< why there is none
};
/// In the order in which work needs them. What an Error tells of one part does not keep the others from being looked
/// at.
std::vector<Examined> examine(const DoctorAsked& asked);

/// Is there something to mend?
bool has_to_mend(const std::vector<Examined>& all);

/// Room for recordings and log: under `least_free_bytes` there is too little for a day (common practice, no source).
Examined disk_as_found(const std::filesystem::path& folder, std::uintmax_t free_bytes);
inline constexpr std::uintmax_t least_free_bytes = std::uintmax_t{1} << 30U;

/// What was written cannot be younger than now.
struct Written {
  std::string what;
  std::int64_t at_unix_s = 0;
  std::int64_t may_differ_s = 300;  ///< clocks of machines that share a log (common practice, no source)
};
Examined clock_as_found(std::int64_t now_unix_s, const std::vector<Written>& written);
inline constexpr std::int64_t files_may_differ_s = 86400;  ///< some disks keep local time, without saying which

/// What a source's channels show. @param rig says which are sensors; empty: not known.
std::vector<Examined> examine_source(const std::string& source, const LiveOptions& options,
                                     const std::optional<Rig>& rig, double seconds);

}  // namespace counterspot
