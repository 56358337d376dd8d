#include "counterspot/shaft/beam.hpp"

#include <Eigen/Cholesky>
#include <Eigen/Dense>
#include <Eigen/Eigenvalues>
#include <algorithm>
#include <array>
#include <cmath>

#include "counterspot/units/angle.hpp"
#include "counterspot/units/error.hpp"

namespace counterspot {

namespace {

struct Element {
  double length_m;
  double bending_N_m2;  // E·I
  double shear_N;       // κ·G·A
  double mass_kg_m;     // ρ·A
  double rotary_kg_m;   // ρ·I
};

// G. R. Cowper, J. Appl. Mech. 33 (1966), hollow circle; m is the bore over the outside diameter.
double shear_coefficient(double poisson_ratio, double m) {
  const double q = (1.0 + m * m) * (1.0 + m * m);
  return 6.0 * (1.0 + poisson_ratio) * q / ((7.0 + 6.0 * poisson_ratio) * q + (20.0 + 12.0 * poisson_ratio) * m * m);
}

Element element_of(const BeamSection& section, double length_m) {
  const double outside = section.outside_diameter_m;
  const double bore = section.bore_m;
  const Material& material = section.material;
  const double area_m2 = pi / 4.0 * (outside * outside - bore * bore);
  const double inertia_m4 = pi / 64.0 * (std::pow(outside, 4) - std::pow(bore, 4));
  const double kappa = shear_coefficient(material.poisson_ratio, bore / outside);
  return {length_m, section.stiffness_fraction * material.youngs_modulus_Pa * inertia_m4,
          section.stiffness_fraction * kappa * material.shear_modulus_Pa() * area_m2, material.density_kg_m3 * area_m2,
          material.density_kg_m3 * inertia_m4};
}

// Deflection w, slope θ of the section, curvature θ' and shear w' − θ over the element, from (w₁, θ₁, w₂, θ₂);
// Friedman & Kosmatka 1993, with Φ = 12 EI/(κGA L²).
struct Shapes {
  Eigen::RowVector4d deflection, slope, curvature, shear;
};

Shapes shapes_at(double x, const Element& e) {
  const double l = e.length_m;
  const double phi = 12.0 * e.bending_N_m2 / (e.shear_N * l * l);
  const double c = 1.0 / (1.0 + phi);
  Shapes s;
  s.deflection << c * (2 * x * x * x - 3 * x * x - phi * x + 1 + phi),
      c * l * (x * x * x - (2 + phi / 2) * x * x + (1 + phi / 2) * x), -c * (2 * x * x * x - 3 * x * x - phi * x),
      c * l * (x * x * x - (1 - phi / 2) * x * x - phi / 2 * x);
  s.slope << 6 * c / l * (x * x - x), c * (3 * x * x - (4 + phi) * x + 1 + phi), -6 * c / l * (x * x - x),
      c * (3 * x * x - (2 - phi) * x);
  s.curvature << 6 * c / (l * l) * (2 * x - 1), c / l * (6 * x - 4 - phi), -6 * c / (l * l) * (2 * x - 1),
      c / l * (6 * x - 2 + phi);
  s.shear << -phi * c / l, -phi * c / 2, phi * c / l, -phi * c / 2;
  return s;
}

struct Matrices {
  Eigen::MatrixXd stiffness, mass;
};

// Four Gauss points integrate the products of cubics (degree 6) exactly.
void add_element(Matrices& all, Eigen::Index at, const Element& e, double rotary_sign) {
  static constexpr std::array<double, 2> points = {0.339981043584856265, 0.861136311594052575};
  static constexpr std::array<double, 2> weights = {0.652145154862546143, 0.347854845137453857};
  Eigen::Matrix4d stiffness = Eigen::Matrix4d::Zero();
  Eigen::Matrix4d mass = Eigen::Matrix4d::Zero();
  for (std::size_t i = 0; i < points.size(); ++i) {
    for (double side : {-1.0, 1.0}) {
      const Shapes s = shapes_at(0.5 + 0.5 * side * points[i], e);
      const double dz = 0.5 * e.length_m * weights[i];
      stiffness +=
          dz * (e.bending_N_m2 * s.curvature.transpose() * s.curvature + e.shear_N * s.shear.transpose() * s.shear);
      mass += dz * (e.mass_kg_m * s.deflection.transpose() * s.deflection +
                    rotary_sign * e.rotary_kg_m * s.slope.transpose() * s.slope);
    }
  }
  all.stiffness.block<4, 4>(at, at) += stiffness;
  all.mass.block<4, 4>(at, at) += mass;
}

[[noreturn]] void refuse(const std::string& sentence, const std::string& remedy) {
  throw Error(Trouble::request, "bad_beam", sentence, remedy);
}

std::string numbered(const char* what, std::size_t index) {
  return std::string(what) + " " + std::to_string(index + 1);
}

void check_sections(const std::vector<BeamSection>& sections) {
  if (sections.empty()) refuse("the shaft has no section", "state at least one section");
  for (std::size_t i = 0; i < sections.size(); ++i) {
    const BeamSection& s = sections[i];
    if (!(s.end_m > s.begin_m))
      refuse(numbered("section", i) + " does not end behind its begin", "check its positions");
    if (i > 0 && std::abs(s.begin_m - sections[i - 1].end_m) > 1e-6)
      refuse(numbered("section", i) + " does not begin where the one before ends",
             "state sections in order, without gaps");
    if (!(s.outside_diameter_m > s.bore_m) || !(s.bore_m >= 0.0))
      refuse(numbered("section", i) + " has no wall", "its bore must be under its outside diameter, and not negative");
    if (!(s.stiffness_fraction > 0.0) || s.stiffness_fraction > 1.0)
      refuse(numbered("section", i) + " has a stiffness fraction outside 0 to 1",
             "1 is the full section; a slip spline has less");
    if (!(s.material.youngs_modulus_Pa > 0.0) || !(s.material.density_kg_m3 > 0.0))
      refuse(numbered("section", i) + " has no material", "name its material");
  }
}

void check(const Beam& beam, const BeamOptions& options) {
  check_sections(beam.sections);
  const double begin = beam.sections.front().begin_m - 1e-6;
  const double end = beam.sections.back().end_m + 1e-6;
  for (std::size_t i = 0; i < beam.masses.size(); ++i) {
    const BeamMass& m = beam.masses[i];
    if (!(m.position_m >= begin && m.position_m <= end))
      refuse(numbered("mass", i) + " is not on the shaft", "check its position");
    if (!(m.mass_kg >= 0.0) || !(m.diametral_inertia_kg_m2 >= 0.0) || !(m.polar_inertia_kg_m2 >= 0.0))
      refuse(numbered("mass", i) + " is negative", "masses and inertias are 0 or more");
  }
  for (std::size_t i = 0; i < beam.supports.size(); ++i) {
    const BeamSupport& s = beam.supports[i];
    if (!(s.position_m >= begin && s.position_m <= end))
      refuse(numbered("support", i) + " is not on the shaft", "check its position");
    if (s.stiffness_N_m && !(*s.stiffness_N_m > 0.0))
      refuse(numbered("support", i) + " has no stiffness", "leave it out if it does not give");
  }
  if (options.elements < 2 || options.elements > 500)
    refuse("elements must be 2 to 500", "40 are enough for most shafts");
  if (options.modes < 1 || options.modes > 20) refuse("modes must be 1 to 20", "three are enough for most shafts");
}

struct Mesh {
  std::vector<double> nodes_m;
  std::vector<Element> elements;

  Eigen::Index nearest(double position_m) const {
    auto closer = [&](double a, double b) { return std::abs(a - position_m) < std::abs(b - position_m); };
    return std::min_element(nodes_m.begin(), nodes_m.end(), closer) - nodes_m.begin();
  }
};

// Every section's end, mass and support is a node; between them the elements are of equal length.
Mesh mesh_of(const Beam& beam, int elements) {
  const double begin = beam.sections.front().begin_m;
  const double end = beam.sections.back().end_m;
  const double longest = (end - begin) / elements;
  Mesh mesh;
  mesh.nodes_m.push_back(begin);
  for (const BeamSection& section : beam.sections) {
    std::vector<double> stops = {section.end_m};
    auto stop_at = [&](double z) {
      if (z > section.begin_m + 1e-6 && z < section.end_m - 1e-6) stops.push_back(z);
    };
    for (const BeamMass& mass : beam.masses) stop_at(mass.position_m);
    for (const BeamSupport& support : beam.supports) stop_at(support.position_m);
    std::sort(stops.begin(), stops.end());
    for (double stop : stops) {
      const double from = mesh.nodes_m.back();
      if (stop - from < 1e-7) continue;
      const int count = std::max(1, static_cast<int>(std::ceil((stop - from) / longest - 1e-9)));
      for (int i = 1; i <= count; ++i) {
        mesh.nodes_m.push_back(from + (stop - from) * i / count);
        mesh.elements.push_back(element_of(section, (stop - from) / count));
      }
    }
  }
  return mesh;
}

Matrices assemble(const Beam& beam, const Mesh& mesh, Whirl whirl) {
  const Eigen::Index size = 2 * static_cast<Eigen::Index>(mesh.nodes_m.size());
  Matrices all{Eigen::MatrixXd::Zero(size, size), Eigen::MatrixXd::Zero(size, size)};
  const double rotary_sign = whirl == Whirl::forward ? -1.0 : 1.0;
  for (std::size_t i = 0; i < mesh.elements.size(); ++i)
    add_element(all, 2 * static_cast<Eigen::Index>(i), mesh.elements[i], rotary_sign);
  for (const BeamMass& m : beam.masses) {
    const Eigen::Index at = 2 * mesh.nearest(m.position_m);
    all.mass(at, at) += m.mass_kg;
    all.mass(at + 1, at + 1) += m.diametral_inertia_kg_m2 - (whirl == Whirl::forward ? m.polar_inertia_kg_m2 : 0.0);
  }
  for (const BeamSupport& s : beam.supports)
    if (s.stiffness_N_m)
      all.stiffness(2 * mesh.nearest(s.position_m), 2 * mesh.nearest(s.position_m)) += *s.stiffness_N_m;
  return all;
}

std::vector<Eigen::Index> free_motions(const Beam& beam, const Mesh& mesh) {
  std::vector<bool> held(2 * mesh.nodes_m.size(), false);
  for (const BeamSupport& s : beam.supports) {
    const auto at = static_cast<std::size_t>(2 * mesh.nearest(s.position_m));
    if (!s.stiffness_N_m) held[at] = true;
    if (s.clamped) held[at + 1] = true;
  }
  std::vector<Eigen::Index> free;
  for (std::size_t i = 0; i < held.size(); ++i)
    if (!held[i]) free.push_back(static_cast<Eigen::Index>(i));
  return free;
}

// A beam that floats has a singular K; adding σM to it shifts every Ω² by σ. σ is small beside the bending speeds.
double shift_of(const Mesh& mesh) {
  const double length_m = mesh.nodes_m.back() - mesh.nodes_m.front();
  double slowest = 1e300;
  for (const Element& e : mesh.elements) slowest = std::min(slowest, e.bending_N_m2 / e.mass_kg_m);
  return 0.01 * slowest / std::pow(length_m, 4);
}

BeamMode mode_of(double speed_squared, const Eigen::VectorXd& vector, const std::vector<Eigen::Index>& free,
                 std::size_t nodes) {
  BeamMode mode;
  mode.speed_rad_s = std::sqrt(std::max(0.0, speed_squared));
  mode.shape.assign(nodes, 0.0);
  for (std::size_t i = 0; i < free.size(); ++i)
    if (free[i] % 2 == 0) mode.shape[static_cast<std::size_t>(free[i] / 2)] = vector(static_cast<Eigen::Index>(i));
  auto smaller = [](double a, double b) { return std::abs(a) < std::abs(b); };
  const double largest = *std::max_element(mode.shape.begin(), mode.shape.end(), smaller);
  if (largest != 0.0)
    for (double& w : mode.shape) w /= largest;
  return mode;
}

// With B = K + σM positive definite, M x = μ B x has μ = 1/(Ω² + σ): the largest μ are the lowest speeds, and the
// negative μ of forward whirl (thin discs have no critical speed there) are no speeds.
std::vector<BeamMode> modes_of(const Beam& beam, const Mesh& mesh, const BeamOptions& options) {
  const Matrices all = assemble(beam, mesh, options.whirl);
  const std::vector<Eigen::Index> free = free_motions(beam, mesh);
  const double shift = shift_of(mesh);
  const Eigen::MatrixXd mass = all.mass(free, free);
  const Eigen::MatrixXd shifted = all.stiffness(free, free) + shift * mass;
  if (shifted.llt().info() != Eigen::Success)
    refuse("the shaft's matrices cannot be solved",
           "check sections, masses and supports for values out of all proportion");
  const Eigen::GeneralizedSelfAdjointEigenSolver<Eigen::MatrixXd> solver(mass, shifted);
  std::vector<BeamMode> modes;
  for (Eigen::Index i = mass.rows() - 1; i >= 0 && static_cast<int>(modes.size()) < options.modes; --i) {
    const double mu = solver.eigenvalues()(i);
    if (!(mu > 0.0)) break;
    double squared = 1.0 / mu - shift;
    if (squared < 1e-3 * shift) squared = 0.0;  // rounding of a motion without bending
    modes.push_back(mode_of(squared, solver.eigenvectors().col(i), free, mesh.nodes_m.size()));
  }
  return modes;
}

double mass_of(const BeamSection& section) {
  return section.mass_per_length_kg_m() * (section.end_m - section.begin_m);
}

double moment_of(const Beam& beam) {
  double moment_kg_m = 0.0;
  for (const BeamSection& s : beam.sections) moment_kg_m += mass_of(s) * 0.5 * (s.begin_m + s.end_m);
  for (const BeamMass& m : beam.masses) moment_kg_m += m.mass_kg * m.position_m;
  return moment_kg_m;
}

}  // namespace

double BeamSection::mass_per_length_kg_m() const {
  return material.density_kg_m3 * pi / 4.0 * (outside_diameter_m * outside_diameter_m - bore_m * bore_m);
}

double mass_of(const Beam& beam) {
  double mass_kg = 0.0;
  for (const BeamSection& section : beam.sections) mass_kg += mass_of(section);
  for (const BeamMass& mass : beam.masses) mass_kg += mass.mass_kg;
  return mass_kg;
}

BeamSummary critical_speeds(const Beam& beam, const BeamOptions& options) {
  check(beam, options);
  const Mesh mesh = mesh_of(beam, options.elements);
  BeamSummary summary;
  summary.nodes_m = mesh.nodes_m;
  summary.modes = modes_of(beam, mesh, options);
  const std::vector<BeamMode> finer = options.with_discretisation
                                          ? modes_of(beam, mesh_of(beam, 2 * options.elements), options)
                                          : std::vector<BeamMode>{};
  for (std::size_t i = 0; i < summary.modes.size() && i < finer.size(); ++i) {
    const double speed = finer[i].speed_rad_s;
    if (speed > 0.0) summary.modes[i].discretisation_fraction = std::abs(summary.modes[i].speed_rad_s - speed) / speed;
  }
  summary.mass_kg = mass_of(beam);
  summary.center_of_mass_m = moment_of(beam) / summary.mass_kg;
  return summary;
}

SpeedStanding speed_standing(double speed_rad_s, double critical_rad_s) {
  const double fraction = speed_rad_s / critical_rad_s;
  if (fraction <= largest_speed_fraction) return SpeedStanding::well_below;
  return fraction < 2.0 - largest_speed_fraction ? SpeedStanding::near : SpeedStanding::above;
}

}  // namespace counterspot
