# cmake --install: the program, the libraries with a CMake package, their headers and the docs.
# cpack -G DEB: the same as a package. The version comes from project() at the top and nowhere else.
include(GNUInstallDirs)
include(CMakePackageConfigHelpers)

set(package_folder ${CMAKE_INSTALL_LIBDIR}/cmake/proveout)
install(TARGETS proveout RUNTIME COMPONENT program)
install(TARGETS proveout_parser proveout_sim proveout_report proveout_openvdb EXPORT proveout_targets
        ARCHIVE COMPONENT library)
install(EXPORT proveout_targets NAMESPACE proveout:: DESTINATION ${package_folder} COMPONENT library)
configure_package_config_file(${CMAKE_CURRENT_LIST_DIR}/proveout-config.cmake.in
  ${PROJECT_BINARY_DIR}/proveout-config.cmake INSTALL_DESTINATION ${package_folder})
# Below 1.0 a minor number may change names.
write_basic_package_version_file(${PROJECT_BINARY_DIR}/proveout-config-version.cmake
  COMPATIBILITY SameMinorVersion)
install(FILES ${PROJECT_BINARY_DIR}/proveout-config.cmake
              ${PROJECT_BINARY_DIR}/proveout-config-version.cmake
        DESTINATION ${package_folder} COMPONENT library)

# For builds without CMake: the same libraries by pkg-config, found from the file's own place.
file(RELATIVE_PATH package_up "/${CMAKE_INSTALL_LIBDIR}/pkgconfig" "/")
string(REGEX REPLACE "/$" "" package_up "${package_up}")
set(package_volume_libraries "-lopenvdb")
if(IMATH_LIBRARY)
  string(APPEND package_volume_libraries " -l${imath}")
endif()
configure_file(${CMAKE_CURRENT_LIST_DIR}/proveout.pc.in ${PROJECT_BINARY_DIR}/proveout.pc @ONLY)
install(FILES ${PROJECT_BINARY_DIR}/proveout.pc DESTINATION ${CMAKE_INSTALL_LIBDIR}/pkgconfig COMPONENT library)

# Headers keep their paths: they include each other from the root. Those left out are inner ones.
foreach(layer IN ITEMS parser sim report)
  install(DIRECTORY ${PROJECT_SOURCE_DIR}/${layer} DESTINATION ${CMAKE_INSTALL_INCLUDEDIR}/proveout
    COMPONENT library FILES_MATCHING
    PATTERN "*.h"
    PATTERN "page" EXCLUDE PATTERN "cli" EXCLUDE PATTERN "text" EXCLUDE
    PATTERN "toml.h" EXCLUDE PATTERN "sections.h" EXCLUDE PATTERN "table_reader.h" EXCLUDE
    PATTERN "kernel*.h" EXCLUDE PATTERN "tile.h" EXCLUDE PATTERN "sweep.h" EXCLUDE
    PATTERN "interpreter.h" EXCLUDE PATTERN "page_bytes.h" EXCLUDE)
endforeach()

install(DIRECTORY ${PROJECT_SOURCE_DIR}/docs/ DESTINATION ${CMAKE_INSTALL_DOCDIR}/docs
        COMPONENT program)
install(FILES ${PROJECT_SOURCE_DIR}/README.md ${PROJECT_SOURCE_DIR}/DEVELOPERS.md ${PROJECT_SOURCE_DIR}/LICENSE
        DESTINATION ${CMAKE_INSTALL_DOCDIR} COMPONENT program)
install(DIRECTORY ${PROJECT_SOURCE_DIR}/fixtures/door-pull
        DESTINATION ${CMAKE_INSTALL_DOCDIR}/examples COMPONENT program
        PATTERN "generator" EXCLUDE PATTERN "*-out" EXCLUDE)

foreach(file IN ITEMS proveout.1:man/man1 proveout:bash-completion/completions
        _proveout:zsh/vendor-completions proveout.fish:fish/vendor_completions.d)
  string(REPLACE ":" ";" file ${file})
  list(GET file 0 name)
  list(GET file 1 folder)
  install(FILES ${PROJECT_BINARY_DIR}/report/described/${name}
          DESTINATION ${CMAKE_INSTALL_DATAROOTDIR}/${folder} COMPONENT program)
endforeach()

set(CPACK_GENERATOR DEB)
set(CPACK_PACKAGE_NAME proveout)
set(CPACK_PACKAGE_VERSION ${PROJECT_VERSION})
set(CPACK_PACKAGE_DESCRIPTION_SUMMARY "${PROJECT_DESCRIPTION}")
set(CPACK_PACKAGE_CONTACT "the proveout contributors <proveout@localhost>")
set(CPACK_PACKAGE_VENDOR "the proveout contributors")
set(CPACK_PACKAGING_INSTALL_PREFIX /usr)
set(CPACK_STRIP_FILES ON)
set(CPACK_DEBIAN_FILE_NAME DEB-DEFAULT)
set(CPACK_DEBIAN_PACKAGE_SECTION science)
# The libraries the program needs are worked out from the program itself.
set(CPACK_DEBIAN_PACKAGE_SHLIBDEPS ON)
include(CPack)
