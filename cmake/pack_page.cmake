# cmake -DDIST=folder -DOUT=folder -P pack_page.cmake
# Writes OUT/page.s: every file of DIST as .incbin, also compressed by gzip where that makes it
# smaller, behind a table that src/server/page.cpp reads:
#   layproof_page_files: for each file its name, its bytes, its gzipped bytes (begin and end, equal
#   when there are none) and its digest; a null name ends the table.
cmake_minimum_required(VERSION 3.25)
file(GLOB_RECURSE FILES RELATIVE ${DIST} ${DIST}/*)
list(SORT FILES)
if(NOT "index.html" IN_LIST FILES)
  message(FATAL_ERROR "${DIST} holds no index.html")
endif()
find_program(GZIP gzip)
file(REMOVE_RECURSE ${OUT}/gz)
file(MAKE_DIRECTORY ${OUT}/gz)

set(DATA "")
set(TABLE "")
set(NUMBER 0)
foreach(FILE ${FILES})
  if(FILE MATCHES "[\"\\\\]" OR FILE MATCHES "\\.map$")
    continue()
  endif()
  file(SIZE ${DIST}/${FILE} PLAIN_SIZE)
  file(SHA256 ${DIST}/${FILE} DIGEST)
  string(SUBSTRING ${DIGEST} 0 32 DIGEST)
  string(APPEND DATA "name${NUMBER}: .asciz \"/${FILE}\"\n")
  string(APPEND DATA "digest${NUMBER}: .asciz \"${DIGEST}\"\n")
  string(APPEND DATA "plain${NUMBER}: .incbin \"${DIST}/${FILE}\"\nplain_end${NUMBER}:\n")
  string(APPEND DATA "small${NUMBER}:\n")
  if(GZIP AND FILE MATCHES "\\.(html|js|css|svg|json|webmanifest|txt)$")
    execute_process(COMMAND ${GZIP} -9 -n -c ${DIST}/${FILE} OUTPUT_FILE ${OUT}/gz/${NUMBER}
      RESULT_VARIABLE FAILED)
    if(FAILED EQUAL 0)
      file(SIZE ${OUT}/gz/${NUMBER} SMALL_SIZE)
      if(SMALL_SIZE LESS PLAIN_SIZE)
        string(APPEND DATA ".incbin \"${OUT}/gz/${NUMBER}\"\n")
      endif()
    endif()
  endif()
  string(APPEND DATA "small_end${NUMBER}:\n")
  string(APPEND TABLE ".quad name${NUMBER}, digest${NUMBER}, plain${NUMBER}, plain_end${NUMBER}, "
    "small${NUMBER}, small_end${NUMBER}\n")
  math(EXPR NUMBER "${NUMBER} + 1")
endforeach()

file(WRITE ${OUT}/page.s
  ".section .rodata\n${DATA}\n"
  ".section .data.rel.ro, \"aw\"\n.balign 8\n.globl layproof_page_files\nlayproof_page_files:\n"
  "${TABLE}.quad 0, 0, 0, 0, 0, 0\n"
  ".section .note.GNU-stack,\"\",%progbits\n")
