# Turns the tables and texts of reference/ into C++ at configure time, so that each number is kept once and
# installed headers need no file at run time.

# rewound_table_header(<out.hpp> <namespace> <file.table>...)
#
# A table has comment lines (#), one line of columns "name:number" or "name:text" separated by |, then rows.
# Each becomes a constexpr array of structs named after the file. table_of<its row> names the rows, by the text of their
# first cell, and the columns of numbers, so that a policy file can reach every number by name. Where the first cells
# are names, <file>_key lists the rows for code: a name that the table does not have does not compile.
function(rewound_table_header out namespace)
  set(body "")
  set(visits "")
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
    set(keys "")
    set(named TRUE)
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
      list(GET cells 0 key)
      string(STRIP "${key}" key)
      if(NOT key MATCHES "^[A-Za-z][A-Za-z0-9_]*$")
        set(named FALSE)
      endif()
      if(key IN_LIST keys)
        set(key "${key}_${count}")
        set(named FALSE)
      endif()
      list(APPEND keys "${key}")
      list(JOIN row ", " row)
      string(APPEND rows "    {${row}},\n")
      math(EXPR count "${count} + 1")
    endforeach()
    if(count EQUAL 0)
      message(FATAL_ERROR "${file}: no rows")
    endif()
    set(members "")
    set(numbers "")
    set(number_count 0)
    foreach(column IN LISTS columns)
      string(STRIP "${column}" column)
      string(REGEX REPLACE ":.*" "" name "${column}")
      if(column MATCHES ":number$")
        string(APPEND members "  double ${name};\n")
        string(APPEND numbers "      {\"${name}\", &${table}_row::${name}},\n")
        math(EXPR number_count "${number_count} + 1")
      else()
        string(APPEND members "  std::string_view ${name};\n")
      endif()
    endforeach()
    set(key_list "")
    foreach(key IN LISTS keys)
      string(APPEND key_list "      \"${key}\",\n")
    endforeach()
    set(key_type "")
    if(named)
      list(JOIN keys ", " key_names)
      string(APPEND body "enum class ${table}_key { ${key_names} };\n\n")
      set(key_type "  using key = ${table}_key;\n")
    endif()
    string(APPEND body "/// One row of reference/${folder}/${table}.table\nstruct ${table}_row {\n${members}};\n"
      "inline constexpr std::array<${table}_row, ${count}> ${table}{{\n${rows}}};\n\n"
      "template <>\nstruct table_of<${table}_row> {\n"
      "${key_type}  static constexpr std::string_view name = \"${table}\";\n"
      "  static constexpr std::array<std::string_view, ${count}> keys{{\n${key_list}}};\n"
      "  static constexpr std::array<number_column<${table}_row>, ${number_count}> numbers{{\n${numbers}  }};\n};\n\n")
    string(APPEND visits "  visit(${table});\n")
  endforeach()
  file(CONFIGURE OUTPUT ${out} @ONLY CONTENT
"// Generated at configure time from tables of reference/; edit those, not this file.
#pragma once

#include <array>
#include <string_view>

namespace ${namespace} {

/// A column of numbers by its name.
template <class Row>
struct number_column {
  std::string_view name;
  double Row::* member;
};

/// What a table is called, and its rows and columns by name; specialised for the row of each table.
template <class Row>
struct table_of;

${body}/// Calls visit(table) for every table.
template <class Visitor>
constexpr void for_each_table(Visitor&& visit) {
${visits}}

}  // namespace ${namespace}
")
endfunction()

# rewound_practice_header(<out.hpp> <practice.table>): the numbers of that table as members of a struct, which begin as
# the table has them, and a list that leads from each row to its member. Needs the table's rewound_table_header.
function(rewound_practice_header out file)
  set_property(DIRECTORY APPEND PROPERTY CMAKE_CONFIGURE_DEPENDS ${file})
  file(STRINGS ${file} lines REGEX "^[A-Za-z0-9_]+ *\\|")
  set(members "")
  set(numbers "")
  set(count 0)
  foreach(line IN LISTS lines)
    string(REGEX REPLACE " *\\|.*" "" name "${line}")
    set(row "tables::practice[${count}]")
    string(APPEND members "  practice_limit ${name}{${row}.value, ${row}.source};\n")
    string(APPEND numbers "    {${row}, &practice_numbers::${name}},\n")
    math(EXPR count "${count} + 1")
  endforeach()
  file(CONFIGURE OUTPUT ${out} @ONLY CONTENT
"// Generated at configure time from reference/limits/practice.table; edit that, not this file.
#pragma once

#include <array>

#include <rewound/verdict/limit.hpp>
#include <rewound/verdict/limit_tables.hpp>

namespace rewound::verdict {

/// The numbers of reference/limits/practice.table by name, each in its row's unit.
struct practice_numbers {
${members}};

/// A row of the table (name, value, range, unit, source) and its member.
struct practice_number {
  tables::practice_row row;
  practice_limit practice_numbers::* member;
};

static_assert(tables::practice.size() == ${count});
inline constexpr std::array<practice_number, ${count}> practice_list{{
${numbers}}};

}  // namespace rewound::verdict
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
