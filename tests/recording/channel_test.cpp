#include <catch2/catch.hpp>

#include "counterspot/recording/inspection.hpp"
#include "recording_support.hpp"
#include "support.hpp"

using namespace counterspot;
using namespace counterspot::test;

namespace {

RecordingInfo table_info() {
  RecordingInfo info;
  info.name = "spin.csv";
  info.channels = {{"time", "s"}, {"accel", "g"}, {"left", "mV"}, {"right", ""}, {"odd", "Ohm"}};
  return info;
}

Sensor sensor_on(ChannelRef channel) {
  Sensor sensor;
  sensor.name = "A";
  sensor.channel = std::move(channel);
  sensor.sensitivity = {Motion::velocity, 20.0};  // 20 mV/(mm/s)
  sensor.full_scale_V = 10.0;
  return sensor;
}

}  // namespace

TEST_CASE("a channel is found by number, counted from 1, or by its column's name") {
  CHECK(find_channel(table_info(), 1, "the tach") == 0);
  CHECK(find_channel(table_info(), 5, "the tach") == 4);
  CHECK(find_channel(table_info(), std::string("left"), "the tach") == 2);
  for (const ChannelRef& channel : {ChannelRef(0), ChannelRef(6), ChannelRef(-1), ChannelRef(std::string("Left"))}) {
    Error error = error_of([&] { find_channel(table_info(), channel, "the tach"); });
    CHECK(error.code() == "no_such_channel");
    CHECK(error.trouble() == Trouble::request);
    CHECK_THAT(error.remedy(), Catch::Contains("1 'time', 2 'accel', 3 'left', 4 'right', 5 'odd'"));
  }
}

TEST_CASE("a sample becomes motion by the header's unit, or as volts through the sensitivity") {
  // Pencil: 1 g is 9.80665 m/s2 (NIST SP 811); 1 mV over 20 V/(m/s) is 50 um/s; 1 V is 50 mm/s; full scale 10 V 0.5
  // m/s.
  auto accel = sensor_scale(table_info(), sensor_on(std::string("accel")));
  CHECK(accel.motion == Motion::acceleration);
  CHECK(accel.si_per_unit == Approx(9.80665).epsilon(1e-14));
  auto left = sensor_scale(table_info(), sensor_on(3));
  CHECK(left.motion == Motion::velocity);
  CHECK(left.si_per_unit == Approx(50e-6).epsilon(1e-14));
  CHECK(sensor_scale(table_info(), sensor_on(4)).si_per_unit == Approx(0.05).epsilon(1e-14));
  RecordingInfo audio = table_info();
  audio.full_scale = true;
  CHECK(sensor_scale(audio, sensor_on(1)).si_per_unit == Approx(0.5).epsilon(1e-14));
  CHECK(error_of([&] { sensor_scale(table_info(), sensor_on(5)); }).code() == "wrong_unit");
  RecordingInfo timed = table_info();
  timed.time_channel = 0;
  const Error error = error_of([&] { sensor_scale(timed, sensor_on(1)); });
  CHECK_THAT(error.what(), Catch::Contains("sensor A is on column 'time', which holds the times"));
}

TEST_CASE("the statistics of a recording are those of its samples") {
  TemporaryFolder folder;
  auto path = write_file(folder / "spin.csv", "t,x,y\n0,3,nan\n1,-4,2\n2,1,inf\n3,0,2\n");
  InspectedRecording recording(open_recording(path));
  recording.read_to_end();
  CHECK(recording.frames() == 4);
  CHECK(recording.duration_s() == Approx(4.0));
  const ChannelStatistics& x = recording.channels()[1];
  CHECK(x.min == -4.0);
  CHECK(x.max == 3.0);
  CHECK(x.mean() == 0.0);
  CHECK(x.rms() == Approx(std::sqrt(26.0 / 4.0)));
  CHECK(x.rms_about_mean() == Approx(std::sqrt(26.0 / 4.0)));
  const ChannelStatistics& y = recording.channels()[2];
  CHECK(y.not_finite == 2);
  CHECK(y.first_not_finite == 0);
  CHECK(y.samples == 2);
  CHECK(y.mean() == 2.0);
  CHECK(y.rms_about_mean() == 0.0);
}
