// SPDX-License-Identifier: MIT
#include "registers.hpp"

PYBIND11_MODULE(_core, module) {
  module.doc() = "Compiled part of rewound; the public names are in the package itself.";
  module.attr("__version__") = REWOUND_VERSION;
  rewound::python::register_errors(module);
  rewound::python::register_record(module);
  rewound::python::register_job(module);
  rewound::python::register_pictures(module);
  rewound::python::register_winding(module);
  rewound::python::register_machine(module);
  rewound::python::register_fit(module);
  rewound::python::register_insulation(module);
  rewound::python::register_running(module);
  rewound::python::register_bench(module);
  rewound::python::register_simulation(module);
}
