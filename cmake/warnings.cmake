# SPDX-License-Identifier: Apache-2.0
# Warnings are errors; assertions stay on in release builds (they catch our own bugs only, and a
# failed one ends the process, on which the permit lapses).
add_compile_options(-Wall -Wextra -Wpedantic -Wshadow -Wconversion -Wsign-conversion -Wold-style-cast
                    -Wnon-virtual-dtor -Woverloaded-virtual -Werror)
# g++ 12, optimising, sees overflows in fmt's headers and uninitialised members in moved variants
# where there are none; clang and the sanitizers watch for the real ones.
add_compile_options($<$<CXX_COMPILER_ID:GNU>:-Wno-stringop-overflow>
                    $<$<CXX_COMPILER_ID:GNU>:-Wno-maybe-uninitialized>)
string(REPLACE "-DNDEBUG" "" CMAKE_CXX_FLAGS_RELEASE "${CMAKE_CXX_FLAGS_RELEASE}")
string(REPLACE "-DNDEBUG" "" CMAKE_CXX_FLAGS_RELWITHDEBINFO "${CMAKE_CXX_FLAGS_RELWITHDEBINFO}")
if(CMAKE_CXX_COMPILER_ID STREQUAL "GNU")
  # g++ 12: false hits inside std::variant and std::string where it optimises.
  add_compile_options(-Wno-maybe-uninitialized -Wno-restrict)
endif()
# Where a ring is compiled as one file, the names of each of its files are in sight of all others.
if(CMAKE_UNITY_BUILD)
  add_compile_options(-Wno-shadow -Wno-subobject-linkage)
endif()
set(BRINEGATE_SANITIZE "" CACHE STRING "sanitizers, e.g. address,undefined or thread")
if(BRINEGATE_SANITIZE)
  add_compile_options(-fsanitize=${BRINEGATE_SANITIZE} -fno-omit-frame-pointer -fno-sanitize-recover=all)
  add_link_options(-fsanitize=${BRINEGATE_SANITIZE})
  if(BRINEGATE_SANITIZE MATCHES "thread")
    add_compile_options(-Wno-tsan)
  endif()
endif()
option(BRINEGATE_FUZZ "a fuzzer for each entry point for strangers' input; with clang" OFF)
if(BRINEGATE_FUZZ)
  add_compile_options(-fsanitize=fuzzer-no-link)
endif()
