#include "counterspot/counterspot.h"

#include <algorithm>
#include <chrono>
#include <cmath>
#include <functional>
#include <limits>
#include <memory>
#include <new>

#include "counterspot/drawing/drawing_charts.hpp"
#include "counterspot/drawing/drawing_job.hpp"
#include "counterspot/files/files.hpp"
#include "counterspot/guide/cautions.hpp"
#include "counterspot/version.hpp"
#include "files/output_file.hpp"
#include "report/documents.hpp"
#include "report/placement.hpp"

using namespace counterspot;

struct counterspot_answer {
  counterspot_status status = COUNTERSPOT_DONE;
  std::string json;
  std::string code;
  std::string text;
  std::string remedy;
  std::function<Picture()> picture;  ///< empty: there is none
};

namespace {

/// A result, and its picture if it has one.
struct Told {
  Json document;
  std::function<Picture()> picture = {};
};

counterspot_status status_of(Trouble trouble) {
  switch (trouble) {
    case Trouble::request: return COUNTERSPOT_BAD_REQUEST;
    case Trouble::recording: return COUNTERSPOT_BAD_RECORDING;
    case Trouble::machine: break;
  }
  return COUNTERSPOT_MACHINE_FAILED;
}

/// Samples of the caller: volts, read where they lie.
class CallersSamples : public Recording {
 public:
  CallersSamples(std::span<const double> interleaved_V, std::size_t channels, double sample_rate_Hz)
      : rest_(interleaved_V) {
    info_.name = "samples in memory";
    info_.format = "samples in memory";
    info_.sample_rate_Hz = sample_rate_Hz;
    info_.frames = static_cast<std::int64_t>(interleaved_V.size() / channels);
    for (std::size_t c = 0; c < channels; ++c) info_.channels.push_back({std::to_string(c + 1), "V"});
  }

  const RecordingInfo& info() const override { return info_; }

  std::size_t read(std::span<double> interleaved) override {
    const std::size_t count = std::min(interleaved.size(), rest_.size());
    std::copy_n(rest_.begin(), count, interleaved.begin());
    rest_ = rest_.subspan(count);
    return count / info_.channels.size();
  }

 private:
  RecordingInfo info_;
  std::span<const double> rest_;
};

Error bad_argument(const std::string& what, const std::string& remedy) {
  return {Trouble::request, "bad_argument", what, remedy};
}

const char* given(const char* text, const char* name) {
  if (text == nullptr) throw bad_argument(std::string(name) + " is NULL", "pass a text");
  return text;
}

std::vector<double> orders_of(const double* orders, std::size_t order_count) {
  if (orders == nullptr) return {1.0};
  if (order_count == 0) throw bad_argument("there are no orders", "pass at least one, or NULL for order 1");
  return {orders, orders + order_count};
}

std::span<const double> samples_of(const double* interleaved_V, std::size_t frames, std::size_t channels,
                                   double sample_rate_Hz) {
  const bool countable = channels > 0 && frames <= std::numeric_limits<std::size_t>::max() / sizeof(double) / channels;
  if (interleaved_V == nullptr || frames == 0 || !countable)
    throw bad_argument("there are no samples", "pass at least one frame of at least one channel");
  if (!(sample_rate_Hz > 0.0) || !std::isfinite(sample_rate_Hz))
    throw bad_argument("the sample rate is not greater than zero", "pass samples a second");
  return {interleaved_V, frames * channels};
}

std::unique_ptr<Recording> recording_of(const double* interleaved_V, std::size_t frames, std::size_t channels,
                                        double sample_rate_Hz) {
  return std::make_unique<CallersSamples>(samples_of(interleaved_V, frames, channels, sample_rate_Hz), channels,
                                          sample_rate_Hz);
}

std::unique_ptr<Recording> opened(const char* recording_path, const Rig& rig) {
  return open_recording(given(recording_path, "recording_path"), recording_options(rig));
}

Told told_track(Recording& recording, const Rig& rig, const std::vector<double>& orders) {
  TrackOptions options;
  options.orders = orders;
  return {document_of(track(recording, rig, options))};
}

Told told_sweep(Recording& recording, const Rig& rig, const std::vector<double>& orders) {
  SweepOptions options;
  options.orders = orders;
  const auto found = std::make_shared<const Sweep>(sweep(recording, rig, options));
  return {document_of(*found), [found] { return sweep_picture(*found); }};
}

Told told_solution(const SpinSet& set) {
  const auto found = std::make_shared<const Solution>(solve(set));
  return {document_of(*found, set),
          [found, set] { return solution_picture(set.rig, set.shaft, *found, set.spins.back().fitted); }};
}

Told told_placement(const SpinSet& set, const Stock& stock, double patience_s) {
  if (!(patience_s > 0.0)) throw bad_argument("the patience is not greater than zero", "pass seconds, such as 2");
  CorrectionOptions options;
  const auto end = std::chrono::steady_clock::now() + std::chrono::duration<double>(patience_s);
  options.fitting.out_of_time = [end] { return std::chrono::steady_clock::now() > end; };
  const Solution solution = solve(set);
  const Correction correction = plan_correction(set.shaft, solution, stock, set.spins.back().fitted, options);
  const ShownPlans shown{set, stock, solution, correction, set.rig.viewing_end, UnitSystem::metric};
  return {document_of(shown), [set, stock, choices = choices_of(correction)] {
            return placing_picture(set.rig, set.shaft, stock, choices, set.spins.back().fitted, set.rig.viewing_end,
                                   UnitSystem::metric);
          }};
}

/// Nothing that is thrown goes further than this.
template <typename Work>
counterspot_answer* answer_of(const Work& work) noexcept {
  auto* answer = new (std::nothrow) counterspot_answer;  // NOLINT(cppcoreguidelines-owning-memory): C callers own it
  if (answer == nullptr) return nullptr;
  try {
    try {
      Told told = work();
      answer->json = one_line(told.document);
      answer->picture = std::move(told.picture);
    } catch (const Error& error) {
      answer->status = status_of(error.trouble());
      answer->code = error.code();
      answer->text = error.what();
      answer->remedy = error.remedy();
    } catch (const std::exception& error) {
      answer->status = COUNTERSPOT_MACHINE_FAILED;
      answer->code = "fault";
      answer->text = error.what();
      answer->remedy = "this is a fault of the library or the machine; please report it";
    }
  } catch (...) {  // no memory for the sentences of an error
    counterspot_answer_free(answer);
    return nullptr;
  }
  return answer;
}

using Tell = Told (*)(Recording& recording, const Rig& rig, const std::vector<double>& orders);

/// What `tell` finds in the spin that `open` gives, from a file or from memory.
template <typename Open>
counterspot_answer* answer_of_spin(Tell tell, const char* rig_path, const double* orders, std::size_t order_count,
                                   const Open& open) noexcept {
  return answer_of([&] {
    const Rig rig = read_rig(given(rig_path, "rig_path"));
    return tell(*open(rig), rig, orders_of(orders, order_count));
  });
}

const char* of_error(const counterspot_answer* answer, std::string counterspot_answer::*text) {
  return answer != nullptr && answer->status != COUNTERSPOT_DONE ? (answer->*text).c_str() : nullptr;
}

}  // namespace

counterspot_answer* counterspot_track(const char* recording_path, const char* rig_path, const double* orders,
                                      size_t order_count) {
  return answer_of_spin(told_track, rig_path, orders, order_count,
                        [&](const Rig& rig) { return opened(recording_path, rig); });
}

counterspot_answer* counterspot_track_samples(const double* interleaved_V, size_t frames, size_t channels,
                                              double sample_rate_Hz, const char* rig_path, const double* orders,
                                              size_t order_count) {
  return answer_of_spin(told_track, rig_path, orders, order_count,
                        [&](const Rig&) { return recording_of(interleaved_V, frames, channels, sample_rate_Hz); });
}

counterspot_answer* counterspot_sweep(const char* recording_path, const char* rig_path, const double* orders,
                                      size_t order_count) {
  return answer_of_spin(told_sweep, rig_path, orders, order_count,
                        [&](const Rig& rig) { return opened(recording_path, rig); });
}

counterspot_answer* counterspot_sweep_samples(const double* interleaved_V, size_t frames, size_t channels,
                                              double sample_rate_Hz, const char* rig_path, const double* orders,
                                              size_t order_count) {
  return answer_of_spin(told_sweep, rig_path, orders, order_count,
                        [&](const Rig&) { return recording_of(interleaved_V, frames, channels, sample_rate_Hz); });
}

counterspot_answer* counterspot_solve(const char* spins_path) {
  return answer_of([&] { return told_solution(read_spins(given(spins_path, "spins_path"))); });
}

counterspot_answer* counterspot_place(const char* spins_path, const char* stock_path, double patience_s) {
  return answer_of([&] {
    const SpinSet set = read_spins(given(spins_path, "spins_path"));
    return told_placement(set, read_stock(given(stock_path, "stock_path"), set.shaft), patience_s);
  });
}

counterspot_answer* counterspot_limit(const char* shaft_path) {
  return answer_of([&] { return Told{document_of(limits_of(read_shaft(given(shaft_path, "shaft_path"))))}; });
}

double counterspot_permissible_unbalance_gmm(const char* grade, double mass_kg, double service_speed_rpm) {
  constexpr double none = std::numeric_limits<double>::quiet_NaN();
  if (grade == nullptr || !(mass_kg > 0.0) || !(service_speed_rpm > 0.0)) return none;
  try {
    return in_g_mm(permissible_unbalance_kg_m(grade_m_s(grade), mass_kg, rad_per_s(service_speed_rpm)));
  } catch (const std::exception&) {
    return none;
  }
}

counterspot_status counterspot_answer_status(const counterspot_answer* answer) {
  return answer != nullptr ? answer->status : COUNTERSPOT_MACHINE_FAILED;
}

const char* counterspot_answer_json(const counterspot_answer* answer) {
  return counterspot_answer_status(answer) == COUNTERSPOT_DONE ? answer->json.c_str() : nullptr;
}

const char* counterspot_answer_error_code(const counterspot_answer* answer) {
  return of_error(answer, &counterspot_answer::code);
}

const char* counterspot_answer_error_text(const counterspot_answer* answer) {
  return of_error(answer, &counterspot_answer::text);
}

const char* counterspot_answer_error_remedy(const counterspot_answer* answer) {
  return of_error(answer, &counterspot_answer::remedy);
}

void counterspot_answer_free(counterspot_answer* answer) {
  delete answer;  // NOLINT(cppcoreguidelines-owning-memory)
}

counterspot_answer* counterspot_answer_draw(const counterspot_answer* answer, const char* picture_path) {
  return answer_of([&] {
    if (answer == nullptr || !answer->picture)
      throw bad_argument("the answer has no picture", "pass a result of a sweep, of solve or of place");
    const std::string file = given(picture_path, "picture_path");
    const OutputRules rules{Overwrite::drawings, {}};  // no recording is a drawing: what was read stays
    DrawingOptions options;
    options.format = picture_format(file);
    admit_output(file, rules);
    write_output(file, draw(answer->picture(), options), rules);
    return Told{{{"picture", file}}};
  });
}

const char* counterspot_version(void) {
  return version;
}

const char* counterspot_cautions(void) {
  static const std::string cautions = [] {
    std::string lines;
    for (const char* line : caution_lines) lines += (lines.empty() ? "" : "\n") + std::string(line);
    return lines;
  }();
  return cautions.c_str();
}
