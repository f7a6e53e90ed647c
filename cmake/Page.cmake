# layproof_page(TARGET): the built page (web/dist) inside the program.
#
# LAYPROOF_PAGE: auto (the page when it has been built or can be), on (refuse to build without it),
# off (a placeholder that says how to build it). With node_modules in place, web/dist is made anew
# whenever something under web/ changes.
set(LAYPROOF_PAGE auto CACHE STRING "Put the page into the program: auto, on or off")
set_property(CACHE LAYPROOF_PAGE PROPERTY STRINGS auto on off)

function(layproof_page TARGET)
  set(WEB ${CMAKE_SOURCE_DIR}/web)
  set(DIST ${WEB}/dist)
  set(OUT ${CMAKE_CURRENT_BINARY_DIR}/page)
  set(PACK ${CMAKE_SOURCE_DIR}/cmake/pack_page.cmake)
  find_program(NPM npm)
  set(CAN_BUILD FALSE)
  if(NOT LAYPROOF_PAGE STREQUAL "off" AND NPM AND EXISTS ${WEB}/node_modules
     AND EXISTS ${WEB}/package.json AND EXISTS ${WEB}/index.html)
    set(CAN_BUILD TRUE)
  endif()
  if(LAYPROOF_PAGE STREQUAL "on" AND NOT CAN_BUILD AND NOT EXISTS ${DIST}/index.html)
    message(FATAL_ERROR "LAYPROOF_PAGE is on, but web/dist is not there and cannot be built: "
      "run npm ci in web/")
  endif()

  set(STAMP ${OUT}/dist.stamp)
  if(CAN_BUILD)
    file(GLOB_RECURSE PAGE_SOURCES CONFIGURE_DEPENDS ${WEB}/src/* ${WEB}/public/*)
    file(GLOB PAGE_SETTINGS CONFIGURE_DEPENDS ${WEB}/*.ts ${WEB}/*.js ${WEB}/*.json ${WEB}/*.html)
    # A build folder of its own: two builds of one checkout do not trip over each other.
    set(DIST ${OUT}/dist)
    add_custom_command(OUTPUT ${STAMP}
      COMMAND ${CMAKE_COMMAND} -E make_directory ${OUT}
      COMMAND ${NPM} run --silent build -- --outDir ${DIST} --emptyOutDir --logLevel warn
      COMMAND ${CMAKE_COMMAND} -E touch ${STAMP}
      WORKING_DIRECTORY ${WEB}
      DEPENDS ${PAGE_SOURCES} ${PAGE_SETTINGS}
      COMMENT "Building the page"
      VERBATIM)
  else()
    if(LAYPROOF_PAGE STREQUAL "off" OR NOT EXISTS ${DIST}/index.html)
      set(DIST ${CMAKE_SOURCE_DIR}/src/server/placeholder)
    endif()
    file(GLOB_RECURSE PAGE_FILES CONFIGURE_DEPENDS ${DIST}/*)
    add_custom_command(OUTPUT ${STAMP}
      COMMAND ${CMAKE_COMMAND} -E make_directory ${OUT}
      COMMAND ${CMAKE_COMMAND} -E touch ${STAMP}
      DEPENDS ${PAGE_FILES}
      VERBATIM)
  endif()

  # One assembler file that takes the bytes in, whatever files there are.
  add_custom_command(OUTPUT ${OUT}/page.s
    COMMAND ${CMAKE_COMMAND} -DDIST=${DIST} -DOUT=${OUT} -P ${PACK}
    DEPENDS ${STAMP} ${PACK}
    COMMENT "Packing the page"
    VERBATIM)
  # The flags are those of C++; an assembler has no use for most of them.
  set_source_files_properties(${OUT}/page.s PROPERTIES LANGUAGE ASM
    COMPILE_OPTIONS "-Wno-unused-command-line-argument")
  target_sources(${TARGET} PRIVATE ${OUT}/page.s)
endfunction()
