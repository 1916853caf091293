# Sets Python3_EXECUTABLE to an interpreter that can import NumPy. The first python3 on PATH need not be one:
# version managers put a bare interpreter there.
#
# An interpreter that the user named (-DPython3_EXECUTABLE=...) is used or refused, never replaced.
function(rewound_choose_python)
  if(REWOUND_PYTHON_WHEEL AND Python3_EXECUTABLE)  # a wheel needs NumPy where it runs, not where it is built
    return()
  endif()
  if(Python3_EXECUTABLE)
    set(candidates ${Python3_EXECUTABLE})
  else()
    find_program(REWOUND_PYTHON_ON_PATH python3 NO_CACHE)
    set(candidates /usr/bin/python3 ${REWOUND_PYTHON_ON_PATH})
  endif()
  foreach(candidate IN LISTS candidates)
    execute_process(COMMAND ${candidate} -c "import numpy"
      RESULT_VARIABLE failed OUTPUT_QUIET ERROR_QUIET)
    if(failed EQUAL 0)
      set(Python3_EXECUTABLE ${candidate} PARENT_SCOPE)
      return()
    endif()
  endforeach()
  list(JOIN candidates ", " tried)
  message(FATAL_ERROR
    "The Python package needs an interpreter with NumPy; tried: ${tried}. Install NumPy for one of them, name "
    "another with -DPython3_EXECUTABLE=<path>, or leave the package out with -DREWOUND_BUILD_PYTHON=OFF.")
endfunction()
