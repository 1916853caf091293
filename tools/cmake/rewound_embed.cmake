# Turns the tables and texts of reference/ into C++ at configure time, so that each number is kept once and
# installed headers need no file at run time.

# rewound_table_header(<out.hpp> <namespace> <file.table>...)
#
# A table has comment lines (#), one line of columns "name:number" or "name:text" separated by |, then rows.
# Each becomes a constexpr array of structs named after the file.
function(rewound_table_header out namespace)
  set(body "")
  foreach(file IN LISTS ARGN)
    set_property(DIRECTORY APPEND PROPERTY CMAKE_CONFIGURE_DEPENDS ${file})
    get_filename_component(table ${file} NAME_WE)
    get_filename_component(folder ${file} DIRECTORY)
    get_filename_component(folder ${folder} NAME)
    file(READ ${file} content)
    string(REGEX REPLACE "(^|\n)#[^\n]*" "" content "${content}")
    if(content MATCHES "[][;\\\\\"]")
      message(FATAL_ERROR "${file}: a table may not hold any of [ ] ; \\ \"")
    endif()
    string(REPLACE "\n" ";" lines "${content}")
    set(columns "")
    set(rows "")
    set(count 0)
    foreach(line IN LISTS lines)
      string(STRIP "${line}" line)
      if(line STREQUAL "")
        continue()
      endif()
      string(REPLACE "|" ";" cells "${line}")
      if(columns STREQUAL "")
        set(columns "${cells}")
        list(LENGTH columns width)
        continue()
      endif()
      list(LENGTH cells found)
      if(NOT found EQUAL width)
        message(FATAL_ERROR "${file}: ${found} cells where ${width} are due: ${line}")
      endif()
      set(row "")
      foreach(cell column IN ZIP_LISTS cells columns)
        string(STRIP "${cell}" cell)
        if(column MATCHES ":number")
          if(NOT cell MATCHES "^-?[0-9]+(\\.[0-9]+)?(e-?[0-9]+)?$")
            message(FATAL_ERROR "${file}: not a number: ${cell}")
          endif()
          list(APPEND row "${cell}")
        else()
          list(APPEND row "\"${cell}\"")
        endif()
      endforeach()
      list(JOIN row ", " row)
      string(APPEND rows "    {${row}},\n")
      math(EXPR count "${count} + 1")
    endforeach()
    if(count EQUAL 0)
      message(FATAL_ERROR "${file}: no rows")
    endif()
    set(members "")
    foreach(column IN LISTS columns)
      string(STRIP "${column}" column)
      string(REGEX REPLACE ":.*" "" name "${column}")
      if(column MATCHES ":number$")
        string(APPEND members "  double ${name};\n")
      else()
        string(APPEND members "  std::string_view ${name};\n")
      endif()
    endforeach()
    string(APPEND body "/// One row of reference/${folder}/${table}.table\nstruct ${table}_row {\n${members}};\n"
      "inline constexpr std::array<${table}_row, ${count}> ${table}{{\n${rows}}};\n\n")
  endforeach()
  file(CONFIGURE OUTPUT ${out} @ONLY CONTENT
"// Generated at configure time from tables of reference/; edit those, not this file.
#pragma once

#include <array>
#include <string_view>

namespace ${namespace} {

${body}}  // namespace ${namespace}
")
endfunction()

# rewound_text_header(<out.hpp> <namespace> <name> <file>): a text file as an inline constexpr string.
function(rewound_text_header out namespace name file)
  set_property(DIRECTORY APPEND PROPERTY CMAKE_CONFIGURE_DEPENDS ${file})
  file(READ ${file} content)
  file(CONFIGURE OUTPUT ${out} @ONLY CONTENT
"// Generated at configure time from the text it holds; edit that, not this file.
#pragma once

#include <string_view>

namespace ${namespace} {

inline constexpr std::string_view ${name} = R\"rewound(${content})rewound\";

}  // namespace ${namespace}
")
endfunction()
