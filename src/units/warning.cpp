#include "counterspot/warning.hpp"

namespace counterspot {

std::string warning_code(WarningCode code) {
  switch (code) {
    case WarningCode::clipped: return "clipped";
    case WarningCode::dead_channel: return "dead_channel";
    case WarningCode::uneven_time: return "uneven_time";
    case WarningCode::short_data: return "short_data";
    case WarningCode::overrun: return "overrun";
    case WarningCode::lost_pulses: return "lost_pulses";
    case WarningCode::double_pulses: return "double_pulses";
    case WarningCode::tach_jitter: return "tach_jitter";
    case WarningCode::weak_tach: return "weak_tach";
    case WarningCode::speed_drift: return "speed_drift";
    case WarningCode::few_revolutions: return "few_revolutions";
    case WarningCode::order_2_dominant: return "order_2_dominant";
    case WarningCode::steady_part: return "steady_part";
    case WarningCode::interference: return "interference";
    case WarningCode::knocks: return "knocks";
    case WarningCode::beating: return "beating";
    case WarningCode::loose_cable: return "loose_cable";
    case WarningCode::near_resonance: return "near_resonance";
    case WarningCode::swapped_sensors: return "swapped_sensors";
    case WarningCode::inverted_polarity: return "inverted_polarity";
    case WarningCode::wrong_sensitivity: return "wrong_sensitivity";
    case WarningCode::no_uncertainty: return "no_uncertainty";
    case WarningCode::speeds_differ: return "speeds_differ";
    case WarningCode::ill_conditioned: return "ill_conditioned";
    case WarningCode::weak_trial: return "weak_trial";
    case WarningCode::plane_left_out: return "plane_left_out";
    case WarningCode::spins_disagree: return "spins_disagree";
    case WarningCode::out_of_band: return "out_of_band";
    case WarningCode::qualification_due: return "qualification_due";
    case WarningCode::flexible_shaft: return "flexible_shaft";
    case WarningCode::share_bounded: return "share_bounded";
  }
  return "unknown";
}

}  // namespace counterspot
