# One floor of the library: its own include root, its own target, and only the floors below it in sight.
#
#   rewound_floor(<name> DEPENDS <target>... [BUILT] [SOURCES <file>...] [COMPILED <file>...] [PRIVATE <target>...]
#                 [GENERATED <include root>])
#
# A floor is header-only unless it has SOURCES, or is BUILT from those that rewound_together() adds. Beside a
# header-only floor stands rewound::<name>_compiled, the same headers with the bodies of this floor and of those below
# compiled once from the COMPILED files (base/compiled.hpp). An upward or sideways include does not compile, because the
# other floor's include root is not on the path; CMAKE_VERIFY_INTERFACE_HEADER_SETS compiles every public header by
# itself to prove it.
function(rewound_floor name)
  cmake_parse_arguments(PARSE_ARGV 1 floor "BUILT" "GENERATED" "DEPENDS;SOURCES;COMPILED;PRIVATE")
  file(GLOB_RECURSE headers CONFIGURE_DEPENDS ${CMAKE_CURRENT_SOURCE_DIR}/include/*.hpp)
  set(implementations ${headers})
  list(FILTER headers EXCLUDE REGEX "/impl/")
  list(FILTER implementations INCLUDE REGEX "/impl/")
  set(target rewound_${name})
  if(floor_BUILT OR floor_SOURCES)
    add_library(${target} STATIC ${floor_SOURCES})
    set(scope PUBLIC)
    target_include_directories(${target} PRIVATE ${CMAKE_CURRENT_SOURCE_DIR}/src)
    target_link_libraries(${target} PRIVATE ${floor_PRIVATE})
    rewound_strict(${target})
  else()
    add_library(${target} INTERFACE)
    set(scope INTERFACE)
  endif()
  add_library(rewound::${name} ALIAS ${target})
  set_target_properties(${target} PROPERTIES EXPORT_NAME ${name})
  target_compile_features(${target} ${scope} cxx_std_20)
  if(floor_GENERATED)
    file(GLOB_RECURSE generated ${floor_GENERATED}/*.hpp)
    list(APPEND headers ${generated})
  endif()
  target_sources(${target} ${scope} FILE_SET HEADERS
    BASE_DIRS ${CMAKE_CURRENT_SOURCE_DIR}/include ${floor_GENERATED} FILES ${headers})
  if(implementations)
    # Each is verified behind its own header.
    target_sources(${target} ${scope} FILE_SET implementations TYPE HEADERS
      BASE_DIRS ${CMAKE_CURRENT_SOURCE_DIR}/include FILES ${implementations})
    set(file_sets FILE_SET implementations COMPONENT library)
  endif()
  set_target_properties(${target} PROPERTIES INTERFACE_HEADER_SETS_TO_VERIFY HEADERS)
  target_link_libraries(${target} ${scope} ${floor_DEPENDS})
  # Headers alone need neither the libraries that read and write files nor what was compiled.
  set(export rewound-headers)
  if(floor_BUILT OR floor_SOURCES)
    set(export rewound-report)
  endif()
  if(REWOUND_INSTALL)
    install(TARGETS ${target} EXPORT ${export} COMPONENT library FILE_SET HEADERS COMPONENT library ${file_sets})
  endif()
  if(NOT (floor_BUILT OR floor_SOURCES))
    rewound_compiled_floor(${name})
  endif()
endfunction()

# rewound::<name>_compiled of a header-only floor; reads the variables of rewound_floor().
function(rewound_compiled_floor name)
  set(target rewound_${name}_compiled)
  set(scope INTERFACE)
  if(floor_COMPILED)
    add_library(${target} STATIC ${floor_COMPILED})
    set(scope PUBLIC)
    target_link_libraries(${target} PRIVATE ${floor_PRIVATE})
    rewound_strict(${target})
    rewound_computes(${target})
  else()
    add_library(${target} INTERFACE)
  endif()
  add_library(rewound::${name}_compiled ALIAS ${target})
  set_target_properties(${target} PROPERTIES EXPORT_NAME ${name}_compiled)
  target_compile_definitions(${target} ${scope} REWOUND_COMPILED)
  target_link_libraries(${target} ${scope} rewound::${name})
  foreach(below IN LISTS floor_DEPENDS)
    if(TARGET ${below}_compiled)
      target_link_libraries(${target} ${scope} ${below}_compiled)
    endif()
  endforeach()
  if(REWOUND_INSTALL)
    install(TARGETS ${target} EXPORT rewound-report COMPONENT library)
  endif()
endfunction()

# Warnings are errors in our own code; sanitizers where the preset asks for them.
function(rewound_strict target)
  target_compile_options(${target} PRIVATE
    -Wall -Wextra -Wpedantic -Wshadow -Wconversion -Wsign-conversion -Wnon-virtual-dtor
    $<$<BOOL:${REWOUND_WERROR}>:-Werror>
    # Designated initializers leave members to their defaults on purpose.
    -Wno-missing-field-initializers
    # GCC 12 sees an uninitialised value inside Eigen's own storage where there is none.
    $<$<CXX_COMPILER_ID:GNU>:-Wno-maybe-uninitialized>)
  if(REWOUND_COVERAGE)
    target_compile_options(${target} PRIVATE --coverage -fprofile-update=atomic)
    target_link_options(${target} PRIVATE --coverage)
  endif()
  if(REWOUND_SANITIZE)
    target_compile_options(${target} PRIVATE -fsanitize=${REWOUND_SANITIZE} -fno-sanitize-recover=all
      $<$<CXX_COMPILER_ID:Clang>:-fsanitize-ignorelist=${CMAKE_CURRENT_FUNCTION_LIST_DIR}/sanitizer_ignore.txt>)
    target_link_options(${target} PRIVATE -fsanitize=${REWOUND_SANITIZE})
  endif()
endfunction()

# rewound_computes(<target>): a target where time goes into loops. Under the sanitizers what is not one is compiled
# without optimisation, in half the time, and runs little slower; these would run many times slower.
function(rewound_computes target)
  if(REWOUND_SANITIZE)
    target_compile_options(${target} PRIVATE -O1)
  endif()
endfunction()

# rewound_together_outside_page(<target> <group> <file>...): the same, of what a page does not ask for: folders and long
# tables, pages of many machines, simulation.
function(rewound_together_outside_page target group)
  if(NOT REWOUND_BUILD_PAGE)
    rewound_together(${target} ${group} ${ARGN})
  endif()
endfunction()

# rewound_together(<target> <group> <file>...): sources of the target that are compiled as one unit: their headers cost
# more than they do. A group should compile in ten seconds, since a change of one file costs its group.
function(rewound_together target group)
  target_sources(${target} PRIVATE ${ARGN})
  set_source_files_properties(${ARGN} PROPERTIES UNITY_GROUP ${group})
  set_target_properties(${target} PROPERTIES UNITY_BUILD ON UNITY_BUILD_MODE GROUP)
endfunction()
