# One floor of the library: its own include root, its own target, and only the floors below it in sight.
#
#   rewound_floor(<name> DEPENDS <target>... [SOURCES <file>...] [PRIVATE <target>...] [GENERATED <include root>])
#
# A floor without SOURCES is header-only. An upward or sideways include does not compile, because the
# other floor's include root is not on the path; CMAKE_VERIFY_INTERFACE_HEADER_SETS compiles every public
# header by itself to prove it.
function(rewound_floor name)
  cmake_parse_arguments(PARSE_ARGV 1 floor "" "GENERATED" "DEPENDS;SOURCES;PRIVATE")
  file(GLOB_RECURSE headers CONFIGURE_DEPENDS ${CMAKE_CURRENT_SOURCE_DIR}/include/*.hpp)
  set(target rewound_${name})
  if(floor_SOURCES)
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
  target_link_libraries(${target} ${scope} ${floor_DEPENDS})
  install(TARGETS ${target} EXPORT rewound-targets FILE_SET HEADERS)
endfunction()

# Warnings are errors in our own code; sanitizers where the preset asks for them.
function(rewound_strict target)
  target_compile_options(${target} PRIVATE
    -Wall -Wextra -Wpedantic -Wshadow -Wconversion -Wsign-conversion -Wnon-virtual-dtor -Werror
    # Designated initializers leave members to their defaults on purpose.
    -Wno-missing-field-initializers
    # GCC 12 sees an uninitialised value inside Eigen's own storage where there is none.
    $<$<CXX_COMPILER_ID:GNU>:-Wno-maybe-uninitialized>)
  if(REWOUND_SANITIZE)
    target_compile_options(${target} PRIVATE -fsanitize=address,undefined -fno-sanitize-recover=all)
    target_link_options(${target} PRIVATE -fsanitize=address,undefined)
  endif()
endfunction()
