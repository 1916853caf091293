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
  set(flags "-fsanitize=address,undefined")
endif()
run(${CMAKE_COMMAND} --install ${build} --prefix ${work}/prefix)
if(NOT EXISTS ${work}/prefix/share/doc/rewound/LICENSE.txt)
  message(FATAL_ERROR "no licence text was installed")
endif()
run(${CMAKE_COMMAND} -S ${source} -B ${work}/build -G ${generator} -D CMAKE_CXX_COMPILER=${compiler}
  -D CMAKE_CXX_FLAGS=${flags} -D CMAKE_PREFIX_PATH=${work}/prefix)
run(${CMAKE_COMMAND} --build ${work}/build)

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
