// SPDX-License-Identifier: MIT
#include "rivals.hpp"

#ifdef REWOUND_HAS_GSL
#include <gsl/gsl_multifit_nlinear.h>

namespace rewound::study {

namespace {

int residuals(const gsl_vector* p, void* data, gsl_vector* f) {
  const auto& curve = *static_cast<const one_curve*>(data);
  double gradient[most_parameters_of_one];
  for (int i = 0; i < curve.count; ++i)
    gsl_vector_set(f, static_cast<size_t>(i), curve.root[i] * (curve.value(p->data, i, gradient) - curve.current[i]));
  return GSL_SUCCESS;
}

int jacobian(const gsl_vector* p, void* data, gsl_matrix* to) {
  const auto& curve = *static_cast<const one_curve*>(data);
  double gradient[most_parameters_of_one];
  for (int i = 0; i < curve.count; ++i) {
    curve.value(p->data, i, gradient);
    for (int j = 0; j < curve.parameters(); ++j)
      gsl_matrix_set(to, static_cast<size_t>(i), static_cast<size_t>(j), curve.root[i] * gradient[j]);
  }
  return GSL_SUCCESS;
}

class gsl_rival : public rival {
 public:
  ~gsl_rival() override { gsl_multifit_nlinear_free(space_); }

  void minimise(const one_curve& curve, double* p) override {
    const auto n = static_cast<size_t>(curve.count);
    const auto k = static_cast<size_t>(curve.parameters());
    if (!space_ || n != readings_ || k != parameters_) {
      gsl_multifit_nlinear_free(space_);
      const auto options = gsl_multifit_nlinear_default_parameters();
      space_ = gsl_multifit_nlinear_alloc(gsl_multifit_nlinear_trust, &options, n, k);
      readings_ = n;
      parameters_ = k;
    }
    gsl_multifit_nlinear_fdf system{};
    system.f = residuals;
    system.df = jacobian;
    system.n = n;
    system.p = k;
    system.params = const_cast<one_curve*>(&curve);
    const auto start = gsl_vector_view_array(p, k);
    gsl_multifit_nlinear_init(&start.vector, &system, space_);
    int info = 0;
    gsl_multifit_nlinear_driver(200, 1e-10, 1e-10, 0.0, nullptr, nullptr, &info, space_);
    for (size_t j = 0; j < k; ++j) p[j] = gsl_vector_get(space_->x, j);
  }

 private:
  gsl_multifit_nlinear_workspace* space_ = nullptr;
  size_t readings_ = 0;
  size_t parameters_ = 0;
};

}  // namespace

std::unique_ptr<rival> make_gsl() { return std::make_unique<gsl_rival>(); }

}  // namespace rewound::study
#else
std::unique_ptr<rewound::study::rival> rewound::study::make_gsl() { return nullptr; }
#endif
