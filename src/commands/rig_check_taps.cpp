#include "commands/rig_check_taps.hpp"

#include "commands/log_place.hpp"
#include "commands/output.hpp"
#include "counterspot/files/files.hpp"
#include "counterspot/guide/rig_guide.hpp"
#include "counterspot/units/error.hpp"
#include "report/tap_check.hpp"

namespace counterspot::commands {

int check_by_taps(const TapsAsked& asked, const Words& words) {
  if (asked.rig_file.empty() || asked.knocks_a.empty() || asked.knocks_b.empty())
    throw Error(Trouble::request, "no_knocks", "a check by knocks needs the rig's file and both recordings",
                "write --rig rig.toml --knocks-a a.wav --knocks-b b.wav");
  const Rig rig = read_rig(asked.rig_file);
  // For their errors, before a log is made.
  for (const std::string& file : {asked.knocks_a, asked.knocks_b}) open_recording(file);
  Log log = open_log(asked.log, true);
  const auto found = check_by_knocks(log, rig, asked.knocks_a, asked.knocks_b, program_name(), now_unix_s());
  const auto* check = std::get_if<TapCheck>(&found);
  asked.json ? print_json(document_of_taps(found)) : print(taps_text(found, rig, words));
  return check != nullptr && check->within ? 0 : 1;
}

}  // namespace counterspot::commands
