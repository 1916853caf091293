// SPDX-License-Identifier: MIT
#pragma once

namespace rewound::machine::detail {

/// A complex number whose products are four multiplications: std::complex tests each product for infinities, which
/// costs more than the product.
struct phasor {
  double re = 0.0;
  double im = 0.0;
};

constexpr phasor operator+(phasor a, phasor b) { return {a.re + b.re, a.im + b.im}; }
constexpr phasor operator-(phasor a, phasor b) { return {a.re - b.re, a.im - b.im}; }
constexpr phasor operator*(phasor a, phasor b) { return {a.re * b.re - a.im * b.im, a.re * b.im + a.im * b.re}; }
constexpr phasor operator*(double k, phasor a) { return {k * a.re, k * a.im}; }
constexpr phasor conj(phasor a) { return {a.re, -a.im}; }
constexpr double norm(phasor a) { return a.re * a.re + a.im * a.im; }
constexpr phasor inverse(phasor a) {
  const double scale = 1.0 / norm(a);
  return {a.re * scale, -a.im * scale};
}
constexpr phasor operator/(phasor a, phasor b) { return a * inverse(b); }

}  // namespace rewound::machine::detail
