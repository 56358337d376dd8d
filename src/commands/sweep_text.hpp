#pragma once

#include <string>

#include "commands/output.hpp"
#include "counterspot/order_spectrum.hpp"
#include "counterspot/sweep.hpp"

namespace counterspot::commands {

Json json_of(const Sweep& sweep);
std::string csv_of(const Sweep& sweep);   ///< one line a turn
std::string text_of(const Sweep& sweep);  ///< resonances and advice

Json json_of(const OrderSpectra& spectra);
std::string csv_of(const OrderSpectra& spectra);   ///< one line an order
std::string text_of(const OrderSpectra& spectra);  ///< the largest lines of each sensor

Json json_of(const SpeedFrequencyMaps& maps);
std::string csv_of(const SpeedFrequencyMaps& maps);   ///< one line a speed and frequency
std::string text_of(const SpeedFrequencyMaps& maps);  ///< where each sensor moves most

}  // namespace counterspot::commands
