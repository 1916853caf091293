# Headers alone, whatever the size of a pointer for which the package was made.
add_library(nlohmann_json::nlohmann_json INTERFACE IMPORTED)
set(nlohmann_json_FOUND TRUE)
