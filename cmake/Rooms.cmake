# Files of a room that use the same libraries share what they read and instantiate when they are
# compiled together: half the time of a build from bare. Off, one changed file is compiled alone.
# Names in unnamed namespaces must differ within a room, and within the tests of a room.
option(LAYPROOF_TOGETHER "Compile the files of a room in batches" OFF)
set(LAYPROOF_ROOMS_TOGETHER frame adjust infer station cause network vet plan lay watch job exchange
  drawing paper acts door server)
set(LAYPROOF_TESTS_TOGETHER frame adjust infer station cause network vet plan lay watch job server cli)

# Rooms whose time is arithmetic.
set(LAYPROOF_ROOMS_FAST adjust infer station cause network plan)

function(layproof_together TARGET FILES)
  if(LAYPROOF_TOGETHER)
    set_target_properties(${TARGET} PROPERTIES UNITY_BUILD ON UNITY_BUILD_BATCH_SIZE ${FILES})
  endif()
endfunction()

# layproof_room(NAME IN_PARTS DEPENDS room... LIBRARIES target... LATE folder...)
# One static library per room. The link line names exactly the rooms to its left that it uses.
# IN_PARTS: it goes into parts too (Parts.cmake). LATE: folders that are parts of their own.
function(layproof_room NAME)
  cmake_parse_arguments(ROOM "IN_PARTS" "" "DEPENDS;LIBRARIES;LATE" ${ARGN})
  file(GLOB_RECURSE ROOM_SOURCES CONFIGURE_DEPENDS ${CMAKE_CURRENT_SOURCE_DIR}/${NAME}/*.cpp)
  foreach(FOLDER ${ROOM_LATE})
    list(FILTER ROOM_SOURCES EXCLUDE REGEX "/${NAME}/${FOLDER}/")
  endforeach()
  if(ROOM_SOURCES)
    add_library(layproof_${NAME} STATIC ${ROOM_SOURCES})
    set(VISIBILITY PUBLIC)
    target_link_libraries(layproof_${NAME} PRIVATE layproof_flags layproof_sanitize)
    if(ROOM_IN_PARTS)
      set_target_properties(layproof_${NAME} PROPERTIES POSITION_INDEPENDENT_CODE ON
        CXX_VISIBILITY_PRESET hidden VISIBILITY_INLINES_HIDDEN ON)
    endif()
    if(NAME IN_LIST LAYPROOF_ROOMS_FAST AND NOT LAYPROOF_SANITIZE)
      target_compile_options(layproof_${NAME} PRIVATE -O2)
    endif()
    if(NAME IN_LIST LAYPROOF_ROOMS_TOGETHER)
      layproof_together(layproof_${NAME} 6)
    endif()
  else()
    add_library(layproof_${NAME} INTERFACE)
    set(VISIBILITY INTERFACE)
  endif()
  target_include_directories(layproof_${NAME} ${VISIBILITY} ${CMAKE_SOURCE_DIR}/src)
  foreach(DEPEND ${ROOM_DEPENDS})
    target_link_libraries(layproof_${NAME} ${VISIBILITY} layproof_${DEPEND})
  endforeach()
  target_link_libraries(layproof_${NAME} ${VISIBILITY} ${ROOM_LIBRARIES})
  set_property(GLOBAL PROPERTY LAYPROOF_DEPENDS_${NAME} ${ROOM_DEPENDS})
endfunction()

# What nearly every test begins with, read once for all test programs (GCC takes it into a program
# whose other options are the same).
function(layproof_tests_often)
  if(NOT LAYPROOF_TOGETHER OR NOT CMAKE_CXX_COMPILER_ID STREQUAL "GNU")
    return()
  endif()
  file(CONFIGURE OUTPUT ${CMAKE_CURRENT_BINARY_DIR}/tests_often.cpp CONTENT "// Nothing.\n")
  set(OFTEN layproof_tests_often)
  if(LAYPROOF_SANITIZE)
    list(APPEND OFTEN layproof_tests_often_sanitized)
  endif()
  foreach(TARGET ${OFTEN})
    add_library(${TARGET} OBJECT ${CMAKE_CURRENT_BINARY_DIR}/tests_often.cpp)
    target_link_libraries(${TARGET} PRIVATE layproof_flags GTest::gtest GTest::gmock)
    target_compile_options(${TARGET} PRIVATE -O1 -pthread -fpch-preprocess)
    target_precompile_headers(${TARGET} PRIVATE ${CMAKE_SOURCE_DIR}/cmake/tests_often.hpp)
  endforeach()
  if(LAYPROOF_SANITIZE)
    target_link_libraries(layproof_tests_often_sanitized PRIVATE layproof_sanitize)
  endif()
endfunction()

# layproof_tests(NAME LIBRARIES target... DEFINITIONS name=value...) : one program from
# tests/NAME/*.cpp. Each case is one ctest test named NAME.suite.case, so that the count of ctest
# is the count of cases. Cases whose name holds "slow" carry the label slow, all others fast.
function(layproof_tests NAME)
  cmake_parse_arguments(T "" "" "LIBRARIES;DEFINITIONS" ${ARGN})
  file(GLOB_RECURSE TEST_SOURCES CONFIGURE_DEPENDS ${CMAKE_CURRENT_SOURCE_DIR}/${NAME}/*.cpp)
  if(NOT TEST_SOURCES)
    return()
  endif()
  add_executable(${NAME}_tests ${TEST_SOURCES})
  target_link_libraries(${NAME}_tests PRIVATE layproof_flags ${T_LIBRARIES}
    layproof_test_support GTest::gtest GTest::gmock GTest::gtest_main)
  if(NAME IN_LIST LAYPROOF_TESTS_TOGETHER)
    layproof_together(${NAME}_tests 6)
  endif()
  # Tests are compiled to be built soon; what they measure is the rooms'.
  target_compile_options(${NAME}_tests PRIVATE -O1)
  layproof_sanitized_tests(${NAME}_tests ${NAME} ${T_LIBRARIES})
  if(TARGET layproof_tests_often)
    set(OFTEN layproof_tests_often)
    if(LAYPROOF_SANITIZE AND NAME IN_LIST LAYPROOF_TESTS_SANITIZED)
      set(OFTEN layproof_tests_often_sanitized)
    endif()
    target_compile_options(${NAME}_tests PRIVATE -pthread -fpch-preprocess)
    target_precompile_headers(${NAME}_tests REUSE_FROM ${OFTEN})
  endif()
  add_dependencies(${NAME}_tests layproof_parts)
  target_compile_definitions(${NAME}_tests PRIVATE
    LAYPROOF_SOURCE_DIR="${CMAKE_SOURCE_DIR}" ${T_DEFINITIONS})
  # Discovery when ctest runs, not when the program is built: a build then never runs tests.
  foreach(SPEED fast slow)
    if(SPEED STREQUAL "slow")
      set(FILTER "*slow*")
    else()
      set(FILTER "-*slow*")
    endif()
    gtest_discover_tests(${NAME}_tests TEST_PREFIX "${NAME}." TEST_FILTER "${FILTER}"
      TEST_LIST ${NAME}_${SPEED} DISCOVERY_MODE PRE_TEST DISCOVERY_TIMEOUT 60
      PROPERTIES LABELS ${SPEED} TIMEOUT 600)
  endforeach()
endfunction()
