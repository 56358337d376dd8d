#include "tracking/sensor_channels.hpp"

#include "tracking/stated_rate.hpp"

namespace counterspot {

SensorChannels sensor_channels(const RecordingInfo& info, const Rig& rig) {
  if (rig.sample_rate_holds && rig.sample_rate_Hz) refuse_other_rate(info, *rig.sample_rate_Hz);
  SensorChannels all;
  for (const Sensor& sensor : rig.sensors) {
    all.channels.push_back(find_channel(info, sensor.channel, "sensor " + sensor.name));
    const MotionUnit unit = sensor_scale(info, sensor);
    all.scales.push_back(unit.si_per_unit);
    all.motions.push_back(unit.motion);
    all.names.push_back(sensor.name);
  }
  return all;
}

}  // namespace counterspot
