# lookfall.map for the linker: the library shows the functions its public headers mark LF_API and
# nothing else. Visibility alone hides most, but not templates of libstdc++ nor functions in several
# versions (target_clones), which the compiler shows whatever it is told. tests/run.sh compares what
# the library shows with what the compiler reads in the headers.
file(GLOB headers CONFIGURE_DEPENDS ${PROJECT_SOURCE_DIR}/include/lookfall/*.h)
set(exports "")
foreach(header ${headers})
  set_property(DIRECTORY APPEND PROPERTY CMAKE_CONFIGURE_DEPENDS ${header})
  file(READ ${header} text)
  string(REGEX MATCHALL "\nLF_API [^(;]*" declarations "${text}")
  foreach(declaration ${declarations})
    if(NOT declaration MATCHES "(lf_[a-z0-9_]+)[ \n]*$")
      message(FATAL_ERROR "${header}: no function in '${declaration}'")
    endif()
    string(APPEND exports "    ${CMAKE_MATCH_1};\n")
  endforeach()
endforeach()
file(CONFIGURE OUTPUT ${PROJECT_BINARY_DIR}/lookfall.map
     CONTENT "{\nglobal:\n@exports@local:\n    *;\n};\n" @ONLY)
