// SPDX-License-Identifier: MIT
#include <algorithm>
#include <ctime>
#include <string>
#include <vector>

#include <rewound/fit/batch_fit.hpp>
#include <rewound/fit/batch_prediction.hpp>

#include "rivals.hpp"

// What tools/studies/fits.py calls: every solver on the same arrays, each answer in full.
namespace rewound::study {

namespace {

/// Arrays of a call: tables of a row per curve, as the Python script holds them.
struct arrays {
  std::size_t curves;
  std::size_t readings;
  const double* voltage;
  const double* current;
  const double* weight;
  const double* rated;
  const double* at;  ///< two voltages to predict at
  double factor;     ///< Student's, at n - p degrees of freedom
  double* parameters;
  double* covariance;
  double* chi2;
  double* predicted;  ///< value, low and high of both: three tables
};

void take(const arrays& in, std::size_t row, task kind, one_curve& to) {
  to.kind = kind;
  to.count = static_cast<int>(in.readings);
  for (std::size_t i = 0; i < in.readings; ++i) {
    to.x[i] = in.voltage[row * in.readings + i] / in.rated[row];
    to.z[i] = std::log(to.x[i]);
    to.current[i] = in.current[row * in.readings + i];
    to.weight[i] = in.weight[row * in.readings + i];
    to.root[i] = std::sqrt(to.weight[i]);
  }
}

/// The least-squares line in logarithms, as most would start.
void start_power(const one_curve& curve, double* p) {
  double w = 0, wz = 0, wzz = 0, wl = 0, wzl = 0;
  for (int i = 0; i < curve.count; ++i) {
    const double z = curve.z[i];
    const double l = std::log(curve.current[i]);
    w += 1, wz += z, wzz += z * z, wl += l, wzl += z * l;
  }
  p[1] = (w * wzl - wz * wl) / (w * wzz - wz * wz);
  p[0] = std::exp((wl - p[1] * wz) / w);
}

/// The best a and b for one m: two normal equations.
void start_magnetising(const one_curve& curve, double m, double* p) {
  double xx = 0, xe = 0, ee = 0, xi = 0, ei = 0;
  for (int i = 0; i < curve.count; ++i) {
    const double e = std::exp(m * curve.z[i]);
    const double w = curve.weight[i];
    xx += w * curve.x[i] * curve.x[i], xe += w * curve.x[i] * e, ee += w * e * e;
    xi += w * curve.x[i] * curve.current[i], ei += w * e * curve.current[i];
  }
  const double determinant = xx * ee - xe * xe;
  p[0] = (xi * ee - ei * xe) / determinant;
  p[1] = (ei * xx - xi * xe) / determinant;
  p[2] = m;
}

/// The lowest from several m, since a descent from one may end in the higher of two minima.
void fit_magnetising(rival& solver, const one_curve& curve, double* p) {
  double best = 1e300;
  for (const double m : {1.7, 3.5, 7.0}) {
    double here[3];
    start_magnetising(curve, m, here);
    solver.minimise(curve, here);
    const double chi2 = curve.chi2(here);
    if (!(chi2 < best) || here[2] < 1.2 || here[2] > 12.0) continue;
    best = chi2;
    std::copy(here, here + 3, p);
  }
}

/// Huber's weights iterated about the plain fit, as a solver without a robust loss does it.
void make_robust(rival& solver, one_curve& curve, double* p) {
  double gradient[most_parameters_of_one];
  double size[most_readings_of_one];
  const auto deviations = [&] {
    for (int i = 0; i < curve.count; ++i)
      size[i] = std::sqrt(curve.weight[i]) * std::abs(curve.current[i] - curve.value(p, i, gradient));
  };
  deviations();
  double sorted[most_readings_of_one];
  std::copy(size, size + curve.count, sorted);
  std::sort(sorted, sorted + curve.count);
  const double median = 0.5 * (sorted[(curve.count - 1) / 2] + sorted[curve.count / 2]);
  const double bend = 1.345 * 1.4826 * median;
  for (int k = 0; k < 300; ++k) {
    const double before[2] = {p[0], p[1]};
    for (int i = 0; i < curve.count; ++i) curve.root[i] = std::sqrt(curve.weight[i] * std::min(1.0, bend / size[i]));
    solver.minimise(curve, p);
    deviations();
    const auto rests = [&](int j) { return std::abs(p[j] - before[j]) <= 1e-8 * std::abs(p[j]); };
    if (rests(0) && rests(1)) return;
  }
}

/// (J^T J)^-1 of two or three parameters by cofactors.
void invert(const double (*m)[3], int n, double (*to)[3]) {
  if (n == 2) {
    const double d = 1.0 / (m[0][0] * m[1][1] - m[0][1] * m[0][1]);
    to[0][0] = m[1][1] * d, to[1][1] = m[0][0] * d, to[0][1] = to[1][0] = -m[0][1] * d;
    return;
  }
  for (int i = 0; i < 3; ++i)
    for (int j = 0; j < 3; ++j) {
      const int a = (i + 1) % 3, b = (i + 2) % 3, c = (j + 1) % 3, d = (j + 2) % 3;
      to[j][i] = m[a][c] * m[b][d] - m[a][d] * m[b][c];
    }
  const double d = 1.0 / (m[0][0] * to[0][0] + m[0][1] * to[1][0] + m[0][2] * to[2][0]);
  for (int i = 0; i < 3; ++i)
    for (int j = 0; j < 3; ++j) to[i][j] *= d;
}

/// Covariance, chi2 and both predictions at the parameters: the same for every rival.
void finish(const arrays& in, std::size_t row, const one_curve& curve, const double* p) {
  const int n = curve.parameters();
  double gram[3][3] = {}, inverse[3][3], gradient[3];
  double chi2 = 0.0;
  for (int i = 0; i < curve.count; ++i) {
    const double r = curve.root[i] * (curve.current[i] - curve.value(p, i, gradient));
    chi2 += r * r;
    for (int j = 0; j < n; ++j)
      for (int k = 0; k < n; ++k) gram[j][k] += curve.root[i] * curve.root[i] * gradient[j] * gradient[k];
  }
  invert(gram, n, inverse);
  const double scale = chi2 / (curve.count - n);
  const auto width = static_cast<std::size_t>(n);
  in.chi2[row] = chi2;
  for (std::size_t j = 0; j < width; ++j) in.parameters[row * width + j] = p[j];
  for (std::size_t j = 0; j < width; ++j)
    for (std::size_t k = 0; k < width; ++k) in.covariance[(row * width + j) * width + k] = scale * inverse[j][k];
  one_curve point;
  point.kind = curve.kind;
  for (std::size_t k = 0; k < 2; ++k) {
    point.x[0] = in.at[k] / in.rated[row];
    point.z[0] = std::log(point.x[0]);
    const double value = point.value(p, 0, gradient);
    double variance = 1.0;
    for (int i = 0; i < n; ++i)
      for (int j = 0; j < n; ++j) variance += gradient[i] * inverse[i][j] * gradient[j];
    const double half = in.factor * std::sqrt(scale * variance);
    double* to = in.predicted + row * 2 + k;
    to[0] = value, to[2 * in.curves] = value - half, to[4 * in.curves] = value + half;
  }
}

void fit_all(rival& solver, const arrays& in, task kind) {
  one_curve curve;
  for (std::size_t row = 0; row < in.curves; ++row) {
    double p[most_parameters_of_one] = {};
    take(in, row, kind, curve);
    if (kind == task::magnetising) fit_magnetising(solver, curve, p);
    else {
      start_power(curve, p);
      solver.minimise(curve, p);
      if (kind == task::robust_power) make_robust(solver, curve, p);
    }
    finish(in, row, curve, p);
  }
}

/// Our own, `step` curves a call: many, or each for itself.
void fit_ours(const arrays& in, task kind, std::size_t step, fit::instruction_set set) {
  const auto family = kind == task::magnetising ? fit::curve_family::magnetising : fit::curve_family::power;
  const fit::curve_table table{in.curves, in.readings, in.voltage, in.current, in.weight, in.rated};
  static std::vector<int> degrees;
  static std::vector<unsigned char> certified;
  degrees.resize(in.curves);
  certified.resize(in.curves);
  const fit::fit_table fits{in.parameters, in.covariance, in.chi2, degrees.data(), certified.data()};
  const fit::prediction_points at{in.at, 2, true, in.rated};
  const fit::prediction_table to{in.predicted, in.predicted + 2 * in.curves, in.predicted + 4 * in.curves};
  for (std::size_t row = 0; row < in.curves; row += step) {
    const std::size_t last = std::min(in.curves, row + step);
    fit::fit_batch(table, family, kind == task::robust_power, row, last, fits, set);
    fit::predict_batch(fits, family, at, 0.95, true, row, last, to, set);
  }
  for (std::size_t row = 0; row < in.curves; ++row)
    if (!certified[row]) in.chi2[row] = -1.0;  // the table counts these as not agreeing
}

/// Seconds that this thread has computed: other programs on the machine do not count.
double thread_seconds() {
  timespec now{};
  clock_gettime(CLOCK_THREAD_CPUTIME_ID, &now);
  return static_cast<double>(now.tv_sec) + 1e-9 * static_cast<double>(now.tv_nsec);
}

std::unique_ptr<rival> rival_named(const std::string& name) {
  if (name == "gsl") return make_gsl();
  if (name == "cminpack") return make_cminpack();
  if (name == "ceres") return make_ceres();
  if (name == "eigen") return make_eigen();
  return nullptr;
}

}  // namespace

}  // namespace rewound::study

/// Seconds of computing of the quickest of `repeats` passes over all curves; below 0 where the solver was not built in.
/// A solver is the name of a rival, or "batch" or "single" and perhaps an instruction set: "batch avx2".
extern "C" double rewound_fit_loop(const char* solver, int kind, const rewound::study::arrays* in, int repeats) {
  using namespace rewound;
  const std::string name = solver;
  const auto wanted = static_cast<study::task>(kind);
  const auto rival = study::rival_named(name);
  const bool batch = name.starts_with("batch");
  if (!rival && !batch && !name.starts_with("single")) return -1.0;
  auto set = fit::instruction_sets().back();
  for (const auto one : fit::instruction_sets())
    if (name.ends_with(fit::name(one))) set = one;
  double best = 1e300;
  for (int k = 0; k < repeats; ++k) {
    const double begin = study::thread_seconds();
    if (rival) study::fit_all(*rival, *in, wanted);
    else study::fit_ours(*in, wanted, batch ? 512 : 1, set);
    best = std::min(best, study::thread_seconds() - begin);
  }
  return best;
}
