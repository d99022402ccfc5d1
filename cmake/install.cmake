# What `cmake --install` puts down: the library, its headers, a pkg-config file and a CMake package
# (find_package(lookfall), target lookfall::lookfall). Each folder installs its own programs.
include(CMakePackageConfigHelpers)

install(TARGETS lookfall EXPORT lookfallTargets LIBRARY DESTINATION ${CMAKE_INSTALL_LIBDIR})
install(DIRECTORY ${PROJECT_SOURCE_DIR}/include/lookfall DESTINATION ${CMAKE_INSTALL_INCLUDEDIR}
        FILES_MATCHING PATTERN "*.h")

set(lookfall_cmake_dir ${CMAKE_INSTALL_LIBDIR}/cmake/lookfall)
install(EXPORT lookfallTargets NAMESPACE lookfall:: DESTINATION ${lookfall_cmake_dir})
configure_package_config_file(${CMAKE_CURRENT_LIST_DIR}/lookfallConfig.cmake.in
                              ${PROJECT_BINARY_DIR}/lookfallConfig.cmake
                              INSTALL_DESTINATION ${lookfall_cmake_dir})
# Before 1.0 a new minor version may change the interface.
write_basic_package_version_file(${PROJECT_BINARY_DIR}/lookfallConfigVersion.cmake
                                 COMPATIBILITY SameMinorVersion)
install(FILES ${PROJECT_BINARY_DIR}/lookfallConfig.cmake
              ${PROJECT_BINARY_DIR}/lookfallConfigVersion.cmake DESTINATION ${lookfall_cmake_dir})

# ${prefix} stays a word of the pkg-config file, so that --define-variable=prefix can move it, unless
# a folder was given as an absolute path.
foreach(name LIBDIR INCLUDEDIR)
  if(IS_ABSOLUTE "${CMAKE_INSTALL_${name}}")
    set(LOOKFALL_PC_${name} "${CMAKE_INSTALL_${name}}")
  else()
    set(LOOKFALL_PC_${name} "\${prefix}/${CMAKE_INSTALL_${name}}")
  endif()
endforeach()
configure_file(${CMAKE_CURRENT_LIST_DIR}/lookfall.pc.in ${PROJECT_BINARY_DIR}/lookfall.pc @ONLY)
install(FILES ${PROJECT_BINARY_DIR}/lookfall.pc DESTINATION ${CMAKE_INSTALL_LIBDIR}/pkgconfig)
