// SPDX-License-Identifier: MIT
#include <limits>
#include <string>

#include <rewound/base/expect.hpp>
#include <rewound/base/parallel.hpp>
#include <rewound/fit/fit_curves.hpp>
#include <rewound/fit/profile_intervals.hpp>

#include "table_rows.hpp"

namespace rewound::fit {

profile_table profiles(const fitted_table& fitted, const curve_table& table, const table_options& options,
                       double level) {
  base::expect(level > 0.0 && level < 1.0, "level", shown_digits(level), "a number between 0 and 1");
  base::expect(options.threads >= 1 && options.threads <= 1024, "threads", std::to_string(options.threads),
               "a whole number from 1 to 1024");
  base::expect(fitted.size() == table.curves, "table", std::to_string(table.curves) + " curves",
               "the readings that the curves were fitted to");
  const std::vector<double> none(fitted.size() * fitted.width, std::numeric_limits<double>::quiet_NaN());
  profile_table out{none, none};
  base::for_each_index(fitted.size(), options.threads, [&](std::size_t row) {
    const auto readings = row_reader(table, row).read();
    const auto found = profile_intervals(readings, fitted.curve(row), level, options.robust, fitted.counts);
    for (std::size_t j = 0; j < found.size(); ++j) {
      out.low[row * fitted.width + j] = found[j].low;
      out.high[row * fitted.width + j] = found[j].high;
    }
  });
  return out;
}

}  // namespace rewound::fit
