# Sanitizers (with assertions on) go into the product's own code and into the tests of the rooms that
# read what others wrote, keep it and hand it on. The other tests, long ones of arithmetic, are
# compiled as ever, so that the compiler cache has them already; of a template that both use, the
# linker then keeps the room's copy (layproof_rooms_first), which is instrumented and asserts. That
# each program sees what is planted is a test of its own (tests/support/planted).
set(LAYPROOF_TESTS_SANITIZED base late measure frame lay job exchange drawing paper acts door server)
add_library(layproof_sanitize INTERFACE)
if(LAYPROOF_SANITIZE)
  target_compile_options(layproof_sanitize INTERFACE -fsanitize=${LAYPROOF_SANITIZE}
    -fno-sanitize-recover=all -fno-omit-frame-pointer -O1 -g1 -UNDEBUG)
  # The address sanitizer sees null and object size itself; alignment and vptr find little where
  # nothing is cast. Together they cost a third of the build's time.
  if(LAYPROOF_SANITIZE MATCHES "address" AND CMAKE_CXX_COMPILER_ID STREQUAL "GNU")
    target_compile_options(layproof_sanitize INTERFACE -fno-sanitize=null,object-size,alignment,vptr)
  endif()
  # Eigen allocates differently under the address sanitizer unless told; tests and rooms must agree.
  target_compile_definitions(layproof_sanitize INTERFACE EIGEN_MALLOC_ALREADY_ALIGNED=1)
  add_link_options(-fsanitize=${LAYPROOF_SANITIZE})
endif()

# layproof_rooms_first(TARGET LIBRARIES): before the objects of the test stand those of its room and of all
# that the room uses. The linker keeps the first copy of a template that it meets.
function(layproof_rooms_below NAME OUT)
  get_property(DEPENDS GLOBAL PROPERTY LAYPROOF_DEPENDS_${NAME})
  set(FOUND ${NAME})
  foreach(DEPEND ${DEPENDS})
    layproof_rooms_below(${DEPEND} BELOW)
    list(APPEND FOUND ${BELOW})
  endforeach()
  list(REMOVE_DUPLICATES FOUND)
  set(${OUT} ${FOUND} PARENT_SCOPE)
endfunction()

function(layproof_rooms_first TARGET)
  set(ALL)
  foreach(LIBRARY ${ARGN})
    if(LIBRARY MATCHES "^layproof_(.+)$")
      layproof_rooms_below(${CMAKE_MATCH_1} BELOW)
      list(APPEND ALL ${BELOW})
    endif()
  endforeach()
  list(REMOVE_DUPLICATES ALL)
  set(ARCHIVES $<TARGET_FILE:layproof_planted>)
  foreach(ROOM ${ALL})
    list(APPEND ARCHIVES $<TARGET_FILE:layproof_${ROOM}>)
  endforeach()
  target_link_options(${TARGET} BEFORE PRIVATE -Wl,--whole-archive ${ARCHIVES} -Wl,--no-whole-archive)
endfunction()

# layproof_sanitized_tests(TARGET NAME LIBRARIES): instrumented, or its rooms first; with the test that
# something planted is seen.
function(layproof_sanitized_tests TARGET NAME)
  if(NOT LAYPROOF_SANITIZE)
    return()
  endif()
  if(NOT TARGET layproof_planted)
    set(PLANTED ${CMAKE_SOURCE_DIR}/tests/support/planted)
    add_library(layproof_planted STATIC ${PLANTED}/planted.cpp)
    target_link_libraries(layproof_planted PRIVATE layproof_flags layproof_sanitize)
    target_link_libraries(layproof_planted PUBLIC Eigen3::Eigen layproof_test_support)
    foreach(KIND sanitized plain)
      add_library(layproof_planted_${KIND} OBJECT ${PLANTED}/planted_test.cpp)
      target_link_libraries(layproof_planted_${KIND} PRIVATE layproof_flags layproof_planted GTest::gtest)
      target_compile_options(layproof_planted_${KIND} PRIVATE -O1)
    endforeach()
    target_link_libraries(layproof_planted_sanitized PRIVATE layproof_sanitize)
    target_compile_definitions(layproof_planted_sanitized PRIVATE LAYPROOF_TEST_SANITIZED)
  endif()
  if(NAME IN_LIST LAYPROOF_TESTS_SANITIZED)
    target_link_libraries(${TARGET} PRIVATE layproof_sanitize layproof_planted
      $<TARGET_OBJECTS:layproof_planted_sanitized>)
  else()
    layproof_rooms_first(${TARGET} ${ARGN})
    target_link_libraries(${TARGET} PRIVATE layproof_planted $<TARGET_OBJECTS:layproof_planted_plain>)
  endif()
endfunction()
