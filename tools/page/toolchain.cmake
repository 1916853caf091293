# Debian's emscripten, with the header-only libraries of the machine beside its own headers. The machine's other headers
# are of another C library and stay out of sight: what packages say of /usr/include is left out, and a folder of links
# to what is wanted of it stands in its place.
set(CMAKE_TRY_COMPILE_TARGET_TYPE STATIC_LIBRARY)
include(/usr/share/emscripten/cmake/Modules/Platform/Emscripten.cmake)
set(CMAKE_CXX_IMPLICIT_INCLUDE_DIRECTORIES /usr/include)
set(CMAKE_FIND_ROOT_PATH_MODE_PACKAGE BOTH)
set(CMAKE_FIND_ROOT_PATH_MODE_INCLUDE BOTH)
list(APPEND CMAKE_PREFIX_PATH /usr)
list(APPEND CMAKE_MODULE_PATH ${CMAKE_CURRENT_LIST_DIR}/cmake)
set(headers ${CMAKE_BINARY_DIR}/headers)
foreach(library boost nlohmann toml++)
  if(NOT EXISTS ${headers}/${library})
    file(MAKE_DIRECTORY ${headers})
    file(CREATE_LINK /usr/include/${library} ${headers}/${library} SYMBOLIC)
  endif()
endforeach()
# Exceptions by the page's script, which every browser has; no vectors, which not every one has.
set(CMAKE_CXX_FLAGS_INIT "-fexceptions -isystem ${headers}")
