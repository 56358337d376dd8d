#pragma once

#include <string>

#include "counterspot/drawing/words.hpp"
#include "counterspot/tracking/order_spectrum.hpp"
#include "counterspot/tracking/sweep.hpp"

namespace counterspot {

std::string csv_of(const Sweep& sweep);                                   ///< one line per turn
std::string text_of(const Sweep& sweep, const Words& words = english());  ///< resonances and advice

std::string csv_of(const OrderSpectra& spectra);                                   ///< one line per order
std::string text_of(const OrderSpectra& spectra, const Words& words = english());  ///< the largest lines of each sensor

std::string csv_of(const SpeedFrequencyMaps& maps);  ///< one line per speed and frequency
std::string text_of(const SpeedFrequencyMaps& maps, const Words& words = english());  ///< where each sensor moves most

}  // namespace counterspot
