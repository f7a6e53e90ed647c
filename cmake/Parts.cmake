# layproof_part(NAME FOLDER folder WITH file... ROOMS room... LIBRARIES target...)
#
# A part of the program that is loaded when it is first asked for (src/late/part.hpp): every file of
# src/FOLDER as lib/layproof/layproof_NAME.so, where the program, the tests and the benchmarks find
# it. WITH names single files of a room whose archive would bring too much. Rooms that go into parts
# are compiled for both (layproof_room, IN_PARTS); a part shows nothing but its entry.
#
# Tests of what is inside link the objects, layproof_NAME_inside.
set(LAYPROOF_PARTS "")

function(layproof_part NAME)
  cmake_parse_arguments(PART "" "FOLDER" "WITH;ROOMS;LIBRARIES" ${ARGN})
  file(GLOB PART_SOURCES CONFIGURE_DEPENDS ${CMAKE_CURRENT_SOURCE_DIR}/${PART_FOLDER}/*.cpp)
  add_library(layproof_${NAME}_inside OBJECT ${PART_SOURCES})
  set_target_properties(layproof_${NAME}_inside PROPERTIES POSITION_INDEPENDENT_CODE ON
    CXX_VISIBILITY_PRESET hidden VISIBILITY_INLINES_HIDDEN ON)
  target_include_directories(layproof_${NAME}_inside PUBLIC ${CMAKE_SOURCE_DIR}/src)
  target_link_libraries(layproof_${NAME}_inside PRIVATE layproof_flags layproof_sanitize)
  foreach(ROOM ${PART_ROOMS} late)
    target_link_libraries(layproof_${NAME}_inside PUBLIC layproof_${ROOM})
  endforeach()
  target_link_libraries(layproof_${NAME}_inside PUBLIC ${PART_LIBRARIES})
  layproof_together(layproof_${NAME}_inside 6)

  add_library(layproof_${NAME} MODULE)
  foreach(FILE ${PART_WITH})
    target_sources(layproof_${NAME} PRIVATE ${CMAKE_CURRENT_SOURCE_DIR}/${FILE})
  endforeach()
  target_link_libraries(layproof_${NAME} PRIVATE layproof_flags layproof_sanitize
    layproof_${NAME}_inside)
  target_link_options(layproof_${NAME} PRIVATE -Wl,--exclude-libs,ALL -Wl,--as-needed
    -Wl,--gc-sections)
  set_target_properties(layproof_${NAME} PROPERTIES PREFIX "" OUTPUT_NAME layproof_${NAME} LINKER_LANGUAGE CXX
    CXX_VISIBILITY_PRESET hidden VISIBILITY_INLINES_HIDDEN ON
    LIBRARY_OUTPUT_DIRECTORY ${CMAKE_BINARY_DIR}/lib/layproof)
  install(TARGETS layproof_${NAME} LIBRARY DESTINATION lib/layproof)
  set(LAYPROOF_PARTS ${LAYPROOF_PARTS} layproof_${NAME} PARENT_SCOPE)
endfunction()
