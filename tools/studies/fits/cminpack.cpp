// SPDX-License-Identifier: MIT
#include "rivals.hpp"

#ifdef REWOUND_HAS_CMINPACK
#include <cminpack.h>

namespace rewound::study {

namespace {

int evaluate(void* data, int m, int n, const double* p, double* f, double* jacobian, int stride, int asked) {
  const auto& curve = *static_cast<const one_curve*>(data);
  double gradient[most_parameters_of_one];
  for (int i = 0; i < m; ++i) {
    const double value = curve.value(p, i, gradient);
    if (asked == 1) f[i] = curve.root[i] * (value - curve.current[i]);
    else
      for (int j = 0; j < n; ++j) jacobian[i + j * stride] = curve.root[i] * gradient[j];
  }
  return 0;
}

class cminpack_rival : public rival {
 public:
  void minimise(const one_curve& curve, double* p) override {
    double f[most_readings_of_one];
    double jacobian[most_readings_of_one * most_parameters_of_one];
    double room[5 * most_parameters_of_one + most_readings_of_one];
    int order[most_parameters_of_one];
    const int n = curve.parameters();
    lmder1(evaluate, const_cast<one_curve*>(&curve), curve.count, n, p, f, jacobian, curve.count, 1e-10, order, room,
           5 * n + curve.count);
  }
};

}  // namespace

std::unique_ptr<rival> make_cminpack() { return std::make_unique<cminpack_rival>(); }

}  // namespace rewound::study
#else
std::unique_ptr<rewound::study::rival> rewound::study::make_cminpack() { return nullptr; }
#endif
