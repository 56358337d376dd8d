#pragma once

#include <string>

#include "counterspot/log/log.hpp"
#include "counterspot/rig/rig_work.hpp"

namespace counterspot {

/// A work's opening and its entries as the details of a RigRecord, JSON.
std::string details_of_opening(const RigWork& work);
std::string details_of_entry(const RigWork& work, const RigEvent& event);

/// What such a record says.
struct RigEntry {
  std::string work;  ///< uid
  int number = 0;    ///< 0: the opening
  RigWork opened;    ///< if it is the opening
  RigEvent event;    ///< if it is not
};
/// @throws Error(request, "bad_record").
RigEntry entry_of(const RigRecord& record);

}  // namespace counterspot
