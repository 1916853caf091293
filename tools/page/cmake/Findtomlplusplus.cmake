# Headers alone, whatever the size of a pointer for which the package was made.
add_library(tomlplusplus::tomlplusplus INTERFACE IMPORTED)
set(tomlplusplus_FOUND TRUE)
