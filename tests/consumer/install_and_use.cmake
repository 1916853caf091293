# Run by the test "consumer"; see CMakeLists.txt here for what it is given.
function(run)
  execute_process(COMMAND ${ARGN} RESULT_VARIABLE result)
  if(NOT result EQUAL 0)
    list(JOIN ARGN " " command)
    message(FATAL_ERROR "${command}: ${result}")
  endif()
endfunction()

file(REMOVE_RECURSE ${work})
file(MAKE_DIRECTORY ${work})
set(flags "")
if(sanitize)
  set(flags "-fsanitize=${sanitize}")
endif()
run(${CMAKE_COMMAND} --install ${build} --prefix ${work}/prefix)
if(NOT EXISTS ${work}/prefix/share/doc/rewound/LICENSE.txt)
  message(FATAL_ERROR "no licence text was installed")
endif()
run(${CMAKE_COMMAND} -S ${examples} -B ${work}/build -G ${generator} -D CMAKE_CXX_COMPILER=${compiler}
  -D CMAKE_CXX_FLAGS=${flags} -D CMAKE_PREFIX_PATH=${work}/prefix)
run(${CMAKE_COMMAND} --build ${work}/build)

# Headers alone: nothing that was compiled is asked for, and pkg-config knows them too.
run(${CMAKE_COMMAND} -S ${examples}/headers -B ${work}/headers -G ${generator} -D CMAKE_CXX_COMPILER=${compiler}
  -D CMAKE_PREFIX_PATH=${work}/prefix -D CMAKE_DISABLE_FIND_PACKAGE_tomlplusplus=ON
  -D CMAKE_DISABLE_FIND_PACKAGE_nlohmann_json=ON)
run(${CMAKE_COMMAND} --build ${work}/headers)
execute_process(COMMAND ${work}/headers/version_check OUTPUT_VARIABLE told RESULT_VARIABLE result)
if(NOT result EQUAL 0 OR NOT told STREQUAL "rewound ${version}\n")
  message(FATAL_ERROR "version_check: ${result}: ${told}")
endif()
file(GLOB_RECURSE descriptions ${work}/prefix/*/rewound*.pc)
list(LENGTH descriptions count)
if(NOT count EQUAL 2)
  message(FATAL_ERROR "pkg-config files: ${descriptions}")
endif()
list(GET descriptions 0 folder)
get_filename_component(folder ${folder} DIRECTORY)
foreach(package rewound rewound-report)
  execute_process(COMMAND ${CMAKE_COMMAND} -E env PKG_CONFIG_PATH=${folder} pkg-config --cflags --libs ${package}
    OUTPUT_VARIABLE ${package}_flags RESULT_VARIABLE result OUTPUT_STRIP_TRAILING_WHITESPACE)
  if(NOT result EQUAL 0)
    message(FATAL_ERROR "pkg-config ${package}: ${result}")
  endif()
endforeach()
separate_arguments(flags_of_it UNIX_COMMAND "${flags} ${rewound-report_flags}")
run(${compiler} -std=c++20 ${examples}/judge_record.cpp -o ${work}/judge_by_pkg_config ${flags_of_it})
run(${work}/judge_by_pkg_config ${record})

# Embedded: the library brings its targets, installs nothing of its own and sets nothing of the build as a whole.
run(${CMAKE_COMMAND} -S ${examples}/embedded -B ${work}/embedded -G ${generator} -D CMAKE_CXX_COMPILER=${compiler}
  -D REWOUND_SOURCE=${source})
run(${CMAKE_COMMAND} --build ${work}/embedded --target version_check)
run(${CMAKE_COMMAND} --install ${work}/embedded --prefix ${work}/empty)
file(GLOB_RECURSE installed ${work}/empty/*)
if(installed)
  message(FATAL_ERROR "an embedded library installed ${installed}")
endif()

# Packages for Debian, unpacked into a root of their own and used there.
run(${cpack} --config ${build}/CPackConfig.cmake -B ${work}/packages)
file(GLOB packages ${work}/packages/*.deb)
list(LENGTH packages count)
if(NOT count EQUAL 3)
  message(FATAL_ERROR "packages: ${packages}")
endif()
foreach(package IN LISTS packages)
  run(dpkg-deb -x ${package} ${work}/root)
endforeach()
run(${work}/root/usr/bin/rewound judge ${record})
run(${CMAKE_COMMAND} -E env PYTHONPATH=${work}/root/usr/lib/python3/dist-packages ${python} -c
  "import rewound; assert rewound.judge(rewound.load_record('${record}')).decision == 'release'")

# From another folder, with nothing of the source tree beside the record.
file(COPY_FILE ${record} ${work}/record.toml)
execute_process(COMMAND ${work}/build/cold_check WORKING_DIRECTORY ${work}
  OUTPUT_VARIABLE cold RESULT_VARIABLE result)
if(NOT result EQUAL 0 OR NOT cold STREQUAL "120 V on 110 V: 9.1 %, 10 ohm at 31 degC is 9.774 ohm at 25 degC\n")
  message(FATAL_ERROR "cold_check: ${result}: ${cold}")
endif()
execute_process(COMMAND ${work}/build/judge_record record.toml WORKING_DIRECTORY ${work}
  OUTPUT_VARIABLE judged RESULT_VARIABLE result)
if(NOT result EQUAL 0 OR NOT judged MATCHES "^release\n.*GH-07")
  message(FATAL_ERROR "judge_record: ${result}: ${judged}")
endif()
