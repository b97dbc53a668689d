# SPDX-License-Identifier: Apache-2.0
# Run as a script: writes the files of FILES into OUTPUT, the definitions of embedded_files.h.
set(type_html "text/html; charset=utf-8")
set(type_css "text/css; charset=utf-8")
set(type_js "text/javascript; charset=utf-8")
set(type_svg "image/svg+xml")
set(type_json "application/json")
set(type_txt "text/plain; charset=utf-8")
set(arrays "")
set(rows "")
set(number 0)
foreach(file ${FILES})
  get_filename_component(name ${file} NAME)
  get_filename_component(kind ${file} LAST_EXT)
  string(SUBSTRING ${kind} 1 -1 kind)
  set(compressed_file ${OUTPUT}.gz)
  execute_process(COMMAND gzip -9 -n -c ${file} OUTPUT_FILE ${compressed_file}
                  COMMAND_ERROR_IS_FATAL ANY)
  foreach(form file compressed_file)
    file(READ ${${form}} bytes HEX)
    string(REGEX REPLACE "([0-9a-f][0-9a-f])" "0x\\1," bytes "${bytes}")
    string(APPEND arrays "constexpr unsigned char ${form}_${number}[]{${bytes}};\n")
  endforeach()
  string(APPEND rows "    EmbeddedFile{\"${name}\", \"${type_${kind}}\", text(file_${number}),
                 text(compressed_file_${number})},\n")
  math(EXPR number "${number} + 1")
endforeach()
file(WRITE ${OUTPUT} "// Written by cmake/embed.cmake.
#include \"daemon/embedded_files.h\"

#include <array>
#include <cstddef>

namespace brinegate::daemon {
namespace {

${arrays}
template <std::size_t size>
std::string_view text(const unsigned char (&bytes)[size]) {
  return {reinterpret_cast<const char*>(bytes), size};
}

}  // namespace

std::span<const EmbeddedFile> embedded_files() {
  static const std::array<EmbeddedFile, ${number}> files{
${rows}  };
  return files;
}

const EmbeddedFile* embedded_file(std::string_view name) {
  for (const EmbeddedFile& file : embedded_files()) {
    if (file.name == name) {
      return &file;
    }
  }
  return nullptr;
}

}  // namespace brinegate::daemon
")
