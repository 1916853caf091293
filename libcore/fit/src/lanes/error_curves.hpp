// SPDX-License-Identifier: MIT
#pragma once

#include "error_group.hpp"

// What a reading says of a curve: its deviation, the weight of its square, and how the curve moves there with each
// parameter. The sums of squares are those of detail::curve_problem.
namespace rewound::fit {
namespace {

/// ln I of a curve at one reading, its local exponent, and the gradients of both.
template <std::size_t parameters>
struct log_point {
  lanes value;
  lanes exponent;
  lanes gradient[parameters];
  lanes turn[parameters];
};

/// ln I = A + z.
struct level_in_logs {
  static constexpr std::size_t parameters = 1;
  static REWOUND_IN_LANES log_point<1> at(const lanes* p, lanes, lanes z) { return {p[0] + z, 1.0, {1.0}, {lanes{}}}; }
};

/// ln I = A + n z.
struct line_in_logs {
  static constexpr std::size_t parameters = 2;
  static REWOUND_IN_LANES log_point<2> at(const lanes* p, lanes, lanes z) {
    return {p[0] + p[1] * z, p[1], {1.0, z}, {lanes{}, 1.0}};
  }
};

/// ln I = A + n z + c z^2.
struct parabola_in_logs {
  static constexpr std::size_t parameters = 3;
  static REWOUND_IN_LANES log_point<3> at(const lanes* p, lanes, lanes z) {
    return {p[0] + (p[1] + p[2] * z) * z, p[1] + 2.0 * p[2] * z, {1.0, z, z * z}, {lanes{}, 1.0, 2.0 * z}};
  }
};

/// I = a x + b x^m.
struct magnetising_in_logs {
  static constexpr std::size_t parameters = 3;
  static REWOUND_IN_LANES log_point<3> at(const lanes* p, lanes x, lanes z) {
    const lanes power = exponential(p[2] * z);
    const lanes bent = p[1] * power;
    const lanes value = p[0] * x + bent;
    const lanes inverse = reciprocal(value);
    const lanes exponent = (p[0] * x + p[2] * bent) * inverse;
    const lanes of_line = x * inverse;
    const lanes of_power = power * inverse;
    const lanes of_bent = bent * inverse;
    return {logarithm(value),
            exponent,
            {of_line, of_power, of_bent * z},
            {of_line * (1.0 - exponent), of_power * (p[2] - exponent), of_bent * (1.0 + (p[2] - exponent) * z)}};
  }
};

/// I^2 = R^2 + A^2 with R = a x + b x^m and A = p / x + g x, and the derivatives of both.
struct loaded_parts {
  lanes reactive, reactive_slope;
  lanes active, active_slope;
  lanes power;
  lanes per_x;
};

REWOUND_IN_LANES loaded_parts loaded_parts_at(const lanes* p, lanes x, lanes z) {
  const lanes power = exponential(p[2] * z);
  const lanes per_x = reciprocal(x);
  return {p[0] * x + p[1] * power,
          p[0] * x + p[2] * (p[1] * power),
          p[3] * per_x + p[4] * x,
          p[4] * x - p[3] * per_x,
          power,
          per_x};
}

struct loaded_in_logs {
  static constexpr std::size_t parameters = 5;
  static REWOUND_IN_LANES log_point<5> at(const lanes* p, lanes x, lanes z) {
    const auto c = loaded_parts_at(p, x, z);
    const lanes square = c.reactive * c.reactive + c.active * c.active;
    const lanes inverse = reciprocal(square);
    const lanes exponent = (c.reactive * c.reactive_slope + c.active * c.active_slope) * inverse;
    const lanes bent = p[1] * c.power;
    const lanes part[5] = {x, c.power, bent * z, c.per_x, x};
    const lanes slope[5] = {x, p[2] * c.power, bent * (1.0 + p[2] * z), -c.per_x, x};
    log_point<5> out;
    out.value = 0.5 * logarithm(square);
    out.exponent = exponent;
    for (std::size_t j = 0; j < 5; ++j) {
      const lanes whole = j < 3 ? c.reactive : c.active;
      const lanes whole_slope = j < 3 ? c.reactive_slope : c.active_slope;
      out.gradient[j] = whole * part[j] * inverse;
      out.turn[j] = (part[j] * whole_slope + whole * slope[j]) * inverse - 2.0 * exponent * out.gradient[j];
    }
    return out;
  }
};

template <std::size_t parameters>
struct reading_point {
  lanes deviation;
  lanes weight;  ///< of its square
  lanes row[parameters];
};

/// (ln I - ln f)^2 / (uI^2 + (n ux)^2), n the local exponent, whose own change with the parameters counts.
template <class Curve>
struct errors_in_both {
  static constexpr std::size_t parameters = Curve::parameters;
  static constexpr bool weighted = false;
  static REWOUND_IN_LANES reading_point<parameters> at(const error_group& g, int i, const lanes* p) {
    const auto here = Curve::at(p, g.x[i], g.z[i]);
    const lanes of_voltage = here.exponent * g.of_voltage[i];
    const lanes inverse = reciprocal(g.of_current[i] + here.exponent * of_voltage);
    reading_point<parameters> out;
    out.deviation = g.log_current[i] - here.value;
    out.weight = g.share[i] * inverse;
    const lanes lever = out.deviation * of_voltage * inverse;
    for (std::size_t j = 0; j < parameters; ++j) out.row[j] = here.gradient[j] + lever * here.turn[j];
    return out;
  }
  static REWOUND_IN_LANES lanes variance(const error_group& g, int i, const lanes* p) {
    const lanes exponent = Curve::at(p, g.x[i], g.z[i]).exponent;
    return g.of_current[i] + exponent * exponent * g.of_voltage[i];
  }
};

/// w (I - f)^2 of the magnetising curve with load.
struct weighted_loaded {
  static constexpr std::size_t parameters = 5;
  static constexpr bool weighted = true;
  static REWOUND_IN_LANES reading_point<5> at(const error_group& g, int i, const lanes* p) {
    const auto c = loaded_parts_at(p, g.x[i], g.z[i]);
    const lanes value = root(c.reactive * c.reactive + c.active * c.active);
    const lanes inverse = reciprocal(value);
    const lanes of_reactive = c.reactive * inverse;
    const lanes of_active = c.active * inverse;
    return {g.current[i] - value,
            g.share[i],
            {of_reactive * g.x[i], of_reactive * c.power, of_reactive * (p[1] * c.power * g.z[i]), of_active * c.per_x,
             of_active * g.x[i]}};
  }
  static REWOUND_IN_LANES lanes variance(const error_group&, int, const lanes*) { return 1.0; }
};

}  // namespace
}  // namespace rewound::fit
