#include "rigsim/live.hpp"

#include <fcntl.h>
#include <fmt/format.h>
#include <unistd.h>

#include <algorithm>
#include <cerrno>
#include <chrono>
#include <cmath>
#include <csignal>
#include <filesystem>
#include <fstream>
#include <functional>
#include <sstream>
#include <stdexcept>
#include <thread>

#include "rigsim/dynamics.hpp"
#include "rigsim/random.hpp"
#include "rigsim/simulate.hpp"

namespace rigsim {

namespace {

using Clock = std::chrono::steady_clock;
constexpr double block_s = 0.02;
constexpr double look_s = 0.05;
constexpr double stretch_s = 30.0;   // simulated at a time while the drive holds its speed
constexpr double rest_rad_s = 0.02;  // the simulation's shaft never quite stops
constexpr double coast_s = 30.0;     // without a brake, from the top

/// One standard deviation of what is set.
struct Setting {
  double mass_fraction;
  double angle_rad;
};
constexpr Setting by_hand = {0.01, 0.01745};
constexpr Setting in_holes = {0.002, 0.001745};

struct Control {
  bool drive = false;
  double speed_rad_s = 0.0;
  bool tach = true;
  double gain = 1.0;
  std::string loose;  // the sensor whose cable is off; empty: none
  std::vector<std::string> fitted;
  bool operator==(const Control&) const = default;
};

Control read_control(const std::string& file, const Scenario& scenario) {
  Control control;
  control.speed_rad_s = scenario.balancing_rad_s;
  std::ifstream lines(file);
  for (std::string line; std::getline(lines, line);) {
    if (line.empty()) continue;
    const std::string rest = line.substr(std::min(line.size(), line.find(' ') + 1));
    if (line.starts_with("drive ")) {
      control.drive = rest == "on";
    } else if (line.starts_with("speed ")) {
      control.speed_rad_s = counterspot::parse_quantity(rest, counterspot::Dimension::speed);
    } else if (line.starts_with("fitted ")) {
      control.fitted.push_back(rest);
    } else if (line.starts_with("tach ")) {
      control.tach = rest == "on";
    } else if (line.starts_with("gain ")) {
      control.gain = std::stod(rest);
    } else if (line.starts_with("loose ")) {
      control.loose = rest;
    } else {
      throw std::runtime_error(
          fmt::format("{}: '{}' is neither drive, speed, fitted, tach, gain nor loose", file, line));
    }
  }
  return control;
}

/// "A: 15 g @ 0 deg", as it really sits.
UnbalanceSlice piece_as_set(const Scenario& scenario, const std::string& text, const Setting& setting,
                            std::uint64_t seed) {
  const auto colon = text.find(':');
  const auto at = text.find('@');
  for (const PlaneTruth& plane : scenario.planes) {
    if (colon == std::string::npos || at == std::string::npos || text.substr(0, colon) != plane.name) continue;
    Random hands(seed ^ std::hash<std::string>{}(text), 77);
    const double mass_kg =
        counterspot::parse_quantity(text.substr(colon + 1, at - colon - 1), counterspot::Dimension::mass);
    const double angle_rad = counterspot::parse_quantity(text.substr(at + 1), counterspot::Dimension::angle);
    return piece_at(plane, mass_kg * (1.0 + setting.mass_fraction * hands.normal()),
                    angle_rad + setting.angle_rad * hands.normal());
  }
  throw std::runtime_error(fmt::format("'{}' does not read like \"A: 15 g @ 0 deg\"", text));
}

/// Writes to a pipe whose reader may come and go; while nobody reads a named pipe the samples are lost, as on a real
/// rig.
class Output {
 public:
  explicit Output(std::string path) : path_(std::move(path)) { std::signal(SIGPIPE, SIG_IGN); }
  ~Output() { close(); }
  Output(const Output&) = delete;
  Output& operator=(const Output&) = delete;
  Output(Output&&) = delete;
  Output& operator=(Output&&) = delete;

  void write(const std::string& bytes) {
    if (number_ < 0 && !open()) return;
    for (std::size_t done = 0; done < bytes.size();) {
      const ssize_t put = ::write(number_, bytes.data() + done, bytes.size() - done);
      if (put < 0 && errno == EINTR) continue;
      if (put < 0) return lose();
      done += static_cast<std::size_t>(put);
    }
  }

 private:
  bool open() {
    number_ = path_ == "-" ? 1 : ::open(path_.c_str(), O_WRONLY | O_CREAT | O_CLOEXEC | O_NONBLOCK, 0644);
    if (number_ < 0 && errno != ENXIO) throw std::runtime_error(path_ + " cannot be written");
    if (number_ > 1) ::fcntl(number_, F_SETFL, ::fcntl(number_, F_GETFL) & ~O_NONBLOCK);
    return number_ >= 0;
  }
  void lose() {
    if (path_ == "-") throw std::runtime_error("nobody reads any more");
    close();
  }
  void close() {
    if (number_ > 1) ::close(number_);
    number_ = -1;
  }

  std::string path_;
  int number_ = -1;
};

class LiveRig {
 public:
  LiveRig(const Scenario& scenario, const LiveOptions& options) : scenario_(scenario), options_(options) {
    control_.speed_rad_s = scenario.balancing_rad_s;
    plan({rest_rad_s, {}, 0.0, 0.3, 0.0, 1.0}, stretch_s);
  }

  void obey(Control control) {
    const double speed = speed_now();
    if (speed > 1.0) control.fitted = control_.fitted;  // nobody touches a shaft that turns: looked at when it stands
    if (control == control_) return;
    const bool weights = control.fitted != control_.fitted;
    control_.tach = control.tach;
    control_.gain = control.gain;
    control_.loose = control.loose;
    const bool drive = control.drive != control_.drive || control.speed_rad_s != control_.speed_rad_s;
    control_ = control;
    if (drive || weights) change_speed(speed);
  }

  /// A line a plane, kg·m: what is really out of balance there with what is on the shaft now.
  std::string truth() const {
    const auto left = equivalent_at_speed(scenario_.rig, scenario_.shaft, spin_.fitted, scenario_.plane_positions_m(),
                                          scenario_.balancing_rad_s);
    std::string text;
    for (std::size_t p = 0; p < left.size(); ++p)
      text += fmt::format("{} {:.6g}\n", scenario_.planes[p].name, std::abs(left[p]));
    return text;
  }

  std::string next_block() {
    const auto frames = static_cast<std::size_t>(block_s * recorded_.sample_rate_Hz);
    if (used_ + frames > recorded_.channels.front().volts.size()) go_on();
    std::string bytes;
    for (std::size_t i = used_; i < used_ + frames; ++i) {
      for (const RecordedChannel& channel : recorded_.channels)
        add(bytes, std::ldexp(volts_of(channel, i) / recorded_.full_scale_V, 31));
    }
    used_ += frames;
    return bytes;
  }

  std::string header() const { return options_.wav ? wav_header() : ""; }
  double block_seconds() const { return block_s; }

 private:
  void add(std::string& bytes, double code) const {
    const auto word =
        static_cast<std::uint32_t>(static_cast<std::int32_t>(std::clamp(code, -2147483648.0, 2147483647.0)));
    for (unsigned shift = options_.wav ? 8 : 0; shift < 32; shift += 8)
      bytes += static_cast<char>(word >> shift & 0xFF);
  }

  /// As the recorder gets it. A tach without supply holds its low level, and a cable that is off gives nothing.
  double volts_of(const RecordedChannel& channel, std::size_t i) const {
    const bool tach = &channel == &recorded_.channels.back();
    const auto number = static_cast<std::size_t>(&channel - recorded_.channels.data());
    if (number < scenario_.rig.sensors.size() && scenario_.rig.sensors[number].name == control_.loose) return 0.0;
    if (!tach) return control_.gain * channel.volts[i];
    return control_.tach ? channel.volts[i] : scenario_.rig.tach.low_V;
  }

  double time_now_s() const { return static_cast<double>(used_) / recorded_.sample_rate_Hz; }
  double speed_now() const { return SpeedCurve(spin_.speed).at(time_now_s()).speed_rad_s; }

  void change_speed(double from_rad_s) {
    const double to = control_.drive ? control_.speed_rad_s : rest_rad_s;
    SpeedPlan speed;
    speed.start_rad_s = std::max(from_rad_s, rest_rad_s);
    speed.start_angle_rad = SpeedCurve(spin_.speed).at(time_now_s()).angle_rad;
    if (std::abs(to - speed.start_rad_s) > rest_rad_s) speed.stretches.push_back({options_.run_up_s, to});
    plan(speed, options_.run_up_s + stretch_s);
  }

  /// The same state goes on when what was simulated is used up.
  void go_on() {
    SpeedPlan speed;
    const Turning turning = SpeedCurve(spin_.speed).at(time_now_s());
    speed.start_rad_s = std::max(turning.speed_rad_s, rest_rad_s);
    speed.start_angle_rad = turning.angle_rad;
    plan(speed, stretch_s);
  }

  void plan(const SpeedPlan& speed, double duration_s) {
    spin_ = {};
    spin_.speed = speed;
    spin_.duration_s = duration_s;
    spin_.seed = options_.seed * 1000 + ++count_;
    for (const std::string& text : control_.fitted)
      spin_.fitted.push_back(piece_as_set(scenario_, text, options_.drilled ? in_holes : by_hand, options_.seed));
    recorded_ = simulate(scenario_.rig, scenario_.shaft, spin_);
    used_ = 0;
  }

  /// RIFF/WAVE with the sizes left open, as a recorder writes to a pipe.
  std::string wav_header() const {
    const auto channels = static_cast<std::uint32_t>(recorded_.channels.size());
    const auto rate = static_cast<std::uint32_t>(recorded_.sample_rate_Hz);
    std::string text = "RIFF\xFF\xFF\xFF\xFFWAVEfmt ";
    auto put = [&](std::uint32_t value, unsigned bytes) {
      for (unsigned i = 0; i < bytes; ++i) text += static_cast<char>(value >> 8 * i & 0xFF);
    };
    put(16, 4);
    put(1, 2);
    put(channels, 2);
    put(rate, 4);
    put(rate * channels * 3, 4);
    put(channels * 3, 2);
    put(24, 2);
    return text + "data\xFF\xFF\xFF\xFF";
  }

  const Scenario& scenario_;
  LiveOptions options_;
  Control control_;
  SpinTruth spin_;
  Recorded recorded_;
  std::size_t used_ = 0;
  std::uint64_t count_ = 0;
};

/// What a new owner does, one act after the other.
class FirstDayRig {
 public:
  FirstDayRig(const FirstDay& day, std::uint64_t seed)
      : day_(day), seed_(seed), by_hand_(hand_turning(day, 5.0, seed)) {
    begin(standing(at_rest(day_, ++seed_, false)));
  }

  void obey(const std::string& act) {
    if (act == act_ || act.empty()) return;
    const double from_rad_s = speed_rad_s_;
    act_ = act;
    next_.clear();
    speed_rad_s_ = 0.0;
    if (act_ == "coast") return begin(coast_down(day_, from_rad_s, fitted_, ++seed_, coast_s));
    if (from_rad_s > 0.0) next_.push_back(coast_down(day_, from_rad_s, fitted_, ++seed_));
    next_.push_back(recorded());
    begin(std::move(next_.front()));
    next_.erase(next_.begin());
  }

  std::string next_block() {
    const auto frames = static_cast<std::size_t>(block_s * recorded_.sample_rate_Hz);
    if (used_ + frames > recorded_.channels.front().volts.size()) go_on();
    std::string bytes;
    for (std::size_t i = used_; i < used_ + frames; ++i) {
      for (const RecordedChannel& channel : recorded_.channels) {
        const auto word = static_cast<std::uint32_t>(static_cast<std::int32_t>(
            std::clamp(std::ldexp(channel.volts[i] / recorded_.full_scale_V, 31), -2147483648.0, 2147483647.0)));
        for (unsigned shift = 0; shift < 32; shift += 8) bytes += static_cast<char>(word >> shift & 0xFF);
      }
    }
    used_ += frames;
    return bytes;
  }
  double block_seconds() const { return block_s; }
  static std::string header() { return ""; }

 private:
  void begin(Recorded recorded) {
    recorded_ = std::move(recorded);
    used_ = 0;
  }
  void go_on() {
    if (!next_.empty()) {
      begin(std::move(next_.front()));
      next_.erase(next_.begin());
      return;
    }
    const bool again = speed_rad_s_ > 0.0 || act_ == "running";
    begin(again ? recorded() : standing(at_rest(day_, ++seed_, false)));
  }

  /// The shaft stands where it is turned by hand from and to: its tach shows the same throughout.
  Recorded standing(Recorded recorded) const {
    auto& tach = recorded.channels[day_.channel[2]].volts;
    const double off = by_hand_.channels[day_.channel[2]].volts.front() - tach.front();
    for (double& v : tach) v += off;
    return recorded;
  }
  Recorded spin(std::vector<UnbalanceSlice> fitted) {
    fitted_ = std::move(fitted);
    speed_rad_s_ = day_.scenario.balancing_rad_s;
    return balancing_spin(day_, fitted_, ++seed_, stretch_s);
  }
  /// "spin A: 15 g @ 0 deg; B: 9 g @ 84 deg"
  Recorded spin_with(const std::string& pieces) {
    constexpr std::uint64_t hands = 7;
    std::vector<UnbalanceSlice> fitted;
    std::istringstream parts(pieces);
    for (std::string part; std::getline(parts, part, ';');) {
      const auto from = part.find_first_not_of(' ');
      if (from != std::string::npos) fitted.push_back(piece_as_set(day_.scenario, part.substr(from), by_hand, hands));
    }
    return spin(std::move(fitted));
  }
  /// Of an act, whose tach may be dead: "blind bare".
  Recorded recorded() {
    constexpr std::string_view blind = "blind ";
    if (!act_.starts_with(blind)) return recorded_of(act_);
    Recorded recorded = recorded_of(act_.substr(blind.size()));
    auto& tach = recorded.channels[day_.channel[2]].volts;
    std::fill(tach.begin(), tach.end(), by_hand_.channels[day_.channel[2]].volts.front());
    return recorded;
  }
  Recorded recorded_of(const std::string& act) {
    if (act.starts_with("spin")) return spin_with(act.substr(4));
    if (act == "running") return standing(at_rest(day_, ++seed_, true));
    if (act == "knocks-a") return standing(knocks(day_, 0, true, ++seed_));
    if (act == "knocks-b") return standing(knocks(day_, 1, true, ++seed_));
    if (act == "hand") return by_hand_;
    if (act == "bare") return spin({});
    if (act == "at-a") return spin({known_weight(day_, 0, 0.0, 3)});
    if (act == "at-b") return spin({known_weight(day_, 1, 0.0, 4)});
    if (act == "known") return spin({known_weight(day_, 0, 0.5 * counterspot::pi, 5)});
    if (act == "shaker-a") return standing(on_shaker(day_, 0, {}, ++seed_));
    if (act == "shaker-b") return standing(on_shaker(day_, 1, {}, ++seed_));
    if (act == "top") {
      fitted_.clear();
      speed_rad_s_ = top_rad_s(day_);
      return top_run(day_, ++seed_, stretch_s);
    }
    if (act == "slow") {
      fitted_.clear();
      speed_rad_s_ = counterspot::rad_per_s(300.0);
      return slow_run(day_, ++seed_, stretch_s);
    }
    if (act != "rest") throw std::runtime_error("'" + act + "' is nothing that is done on the first day");
    return standing(at_rest(day_, ++seed_, false));
  }

  const FirstDay& day_;
  std::uint64_t seed_;
  Recorded by_hand_;
  std::string act_ = "rest";
  double speed_rad_s_ = 0.0;
  std::vector<UnbalanceSlice> fitted_;
  std::vector<Recorded> next_;
  Recorded recorded_;
  std::size_t used_ = 0;
};

std::string first_line(const std::string& file) {
  std::ifstream lines(file);
  std::string line;
  std::getline(lines, line);
  return line;
}

/// Replaced as a whole, so that nobody reads half of it.
void write_truth(const std::string& file, const std::string& text) {
  std::ofstream(file + ".new", std::ios::binary) << text;
  std::filesystem::rename(file + ".new", file);
}

/// @param obey looks at the control file.
template <typename AnyRig>
void run(AnyRig& rig, const LiveOptions& options, const std::function<void()>& obey) {
  Output output(options.out);
  output.write(rig.header());
  const Clock::time_point begin = Clock::now();
  double told_s = 0.0;
  double looked_s = -look_s;
  while (options.seconds == 0.0 || told_s < options.seconds) {
    if (told_s >= looked_s + look_s && !options.control.empty()) {
      obey();
      looked_s = told_s;
    }
    output.write(rig.next_block());
    told_s += rig.block_seconds();
    std::this_thread::sleep_until(
        begin + std::chrono::duration_cast<Clock::duration>(std::chrono::duration<double>(told_s / options.pace)));
  }
}

}  // namespace

void run_live(const Scenario& scenario, const LiveOptions& options) {
  LiveRig rig(scenario, options);
  std::string truth;
  run(rig, options, [&] {
    rig.obey(read_control(options.control, scenario));
    if (const std::string now = rig.truth(); now != truth) write_truth(options.control + ".truth", truth = now);
  });
}

void run_first_day(const FirstDay& day, const LiveOptions& options) {
  FirstDayRig rig(day, options.seed);
  run(rig, options, [&] { rig.obey(first_line(options.control)); });
}

}  // namespace rigsim
