# What `cmake --install` lays down, and how find_package(Counterspot) finds it again.
include(CMakePackageConfigHelpers)

install(TARGETS counterspot EXPORT CounterspotTargets ARCHIVE DESTINATION ${CMAKE_INSTALL_LIBDIR})
install(TARGETS counterspot_c EXPORT CounterspotTargets LIBRARY DESTINATION ${CMAKE_INSTALL_LIBDIR})
install(TARGETS ${loaded} LIBRARY DESTINATION ${CMAKE_INSTALL_LIBDIR}/counterspot)
install(TARGETS counterspot_program RUNTIME DESTINATION ${CMAKE_INSTALL_BINDIR})
install(DIRECTORY include/counterspot DESTINATION ${CMAKE_INSTALL_INCLUDEDIR})
install(FILES ${CMAKE_CURRENT_BINARY_DIR}/generated/counterspot/version.hpp DESTINATION ${CMAKE_INSTALL_INCLUDEDIR}/counterspot)
install(EXPORT CounterspotTargets NAMESPACE counterspot:: DESTINATION ${CMAKE_INSTALL_LIBDIR}/cmake/Counterspot)
configure_package_config_file(tools/CounterspotConfig.cmake.in ${CMAKE_CURRENT_BINARY_DIR}/CounterspotConfig.cmake
  INSTALL_DESTINATION ${CMAKE_INSTALL_LIBDIR}/cmake/Counterspot)
write_basic_package_version_file(${CMAKE_CURRENT_BINARY_DIR}/CounterspotConfigVersion.cmake COMPATIBILITY SameMinorVersion)
install(FILES ${CMAKE_CURRENT_BINARY_DIR}/CounterspotConfig.cmake ${CMAKE_CURRENT_BINARY_DIR}/CounterspotConfigVersion.cmake
  DESTINATION ${CMAKE_INSTALL_LIBDIR}/cmake/Counterspot)

# Completion and manual pages are printed by the program itself, so that they know every command and option there is.
set(printed ${CMAKE_CURRENT_BINARY_DIR}/printed)
add_custom_command(TARGET counterspot_program POST_BUILD
  COMMAND ${CMAKE_COMMAND} -E rm -rf ${printed}
  COMMAND ${CMAKE_COMMAND} -E make_directory ${printed}/man
  COMMAND counterspot_program completion bash --language en > ${printed}/counterspot.bash
  COMMAND counterspot_program completion zsh --language en > ${printed}/_counterspot
  COMMAND counterspot_program manual --folder ${printed}/man
  COMMAND ${CMAKE_COMMAND} -E copy ${CMAKE_CURRENT_SOURCE_DIR}/tools/package/counterspot-page.1 ${printed}/man
  COMMAND sh -c "gzip -9n ${printed}/man/*.[15]" VERBATIM)
install(FILES ${printed}/counterspot.bash DESTINATION ${CMAKE_INSTALL_DATADIR}/bash-completion/completions RENAME counterspot)
install(FILES ${printed}/_counterspot DESTINATION ${CMAKE_INSTALL_DATADIR}/zsh/vendor-completions)
install(DIRECTORY ${printed}/man/ DESTINATION ${CMAKE_INSTALL_MANDIR}/man1 FILES_MATCHING PATTERN "*.1.gz")
install(DIRECTORY ${printed}/man/ DESTINATION ${CMAKE_INSTALL_MANDIR}/man5 FILES_MATCHING PATTERN "*.5.gz")

# All that is laid down, without tests and benchmarks.
add_custom_target(installable DEPENDS counterspot counterspot_c ${loaded} counterspot_program)

install(FILES tools/package/lintian/counterspot DESTINATION ${CMAKE_INSTALL_DATADIR}/lintian/overrides)

# What a desktop shows of the page at the rig; what serves it to who does without a desktop.
install(FILES tools/package/counterspot.metainfo.xml DESTINATION ${CMAKE_INSTALL_DATADIR}/metainfo
  RENAME example.counterspot.page.metainfo.xml)
install(FILES tools/package/counterspot-page.service DESTINATION ${CMAKE_INSTALL_DATADIR}/systemd/user)
install(PROGRAMS tools/package/counterspot-page DESTINATION ${CMAKE_INSTALL_BINDIR})
install(FILES tools/package/counterspot-page.desktop DESTINATION ${CMAKE_INSTALL_DATADIR}/applications)
install(FILES tools/package/counterspot.svg DESTINATION ${CMAKE_INSTALL_DATADIR}/icons/hicolor/scalable/apps)

# The manuals, the demo that they speak of, the example in Python; the release notes stand in DEVELOPERS.md.
set_property(DIRECTORY APPEND PROPERTY CMAKE_CONFIGURE_DEPENDS ${CMAKE_CURRENT_SOURCE_DIR}/DEVELOPERS.md)
execute_process(COMMAND ${CMAKE_CURRENT_SOURCE_DIR}/tools/package/changelog ${CMAKE_CURRENT_SOURCE_DIR}/DEVELOPERS.md
                COMMAND gzip -9n OUTPUT_FILE ${CMAKE_CURRENT_BINARY_DIR}/generated/changelog.gz COMMAND_ERROR_IS_FATAL ANY)
set(docs ${CMAKE_INSTALL_DATADIR}/doc/counterspot)
install(FILES ${CMAKE_CURRENT_BINARY_DIR}/generated/changelog.gz DESTINATION ${docs})
install(FILES LICENSE DESTINATION ${docs} RENAME copyright)
install(DIRECTORY data/ DESTINATION ${docs}/demo)
install(PROGRAMS tools/examples/solve.py DESTINATION ${docs}/examples)

# The package for Python: below a prefix where the Python found looks, in the Debian package where Debian's does. Both folders are as
# deep, so that the library lies the same way from them.
set(CPACK_COMPONENTS_ALL Unspecified)
if(COUNTERSPOT_PYTHON)
  find_package(Python3 3.11 REQUIRED COMPONENTS Interpreter)
  cmake_path(GET Python3_SITELIB FILENAME site)  # dist-packages on Debian, else site-packages
  set(COUNTERSPOT_PYTHON_FOLDER lib/python${Python3_VERSION_MAJOR}.${Python3_VERSION_MINOR}/${site})
  file(RELATIVE_PATH library ${CMAKE_INSTALL_PREFIX}/${COUNTERSPOT_PYTHON_FOLDER}/counterspot
       ${CMAKE_INSTALL_FULL_LIBDIR}/libcounterspot_c.so.${PROJECT_VERSION_MAJOR}.${PROJECT_VERSION_MINOR})
  set(installed ${CMAKE_CURRENT_BINARY_DIR}/generated/python/_installed.py)
  file(CONFIGURE OUTPUT ${installed} CONTENT "LIBRARY = \"@library@\"  # as seen from this folder\n" @ONLY)
  function(install_python folder component)
    install(DIRECTORY src/python/counterspot DESTINATION ${folder} COMPONENT ${component} ${ARGN} PATTERN __pycache__ EXCLUDE)
    install(FILES ${installed} DESTINATION ${folder}/counterspot COMPONENT ${component} ${ARGN})
  endfunction()
  install_python(${COUNTERSPOT_PYTHON_FOLDER} python_below_prefix)
  install_python(lib/python3/dist-packages python EXCLUDE_FROM_ALL)
  set(python_docs ${CMAKE_INSTALL_DATADIR}/doc/python3-counterspot)
  install(FILES ${CMAKE_CURRENT_BINARY_DIR}/generated/changelog.gz DESTINATION ${python_docs} COMPONENT python)
  install(FILES LICENSE DESTINATION ${python_docs} RENAME copyright COMPONENT python)
  install(FILES tools/examples/notebook.py DESTINATION ${python_docs}/examples COMPONENT python)
  list(APPEND CPACK_COMPONENTS_ALL python)
endif()

# `cpack -G DEB` in the build folder. Libraries that are linked are found by dpkg-shlibdeps; the font is asked for by name only.
set(CPACK_GENERATOR DEB)
set(CPACK_PROJECT_CONFIG_FILE ${CMAKE_CURRENT_SOURCE_DIR}/tools/package/reproducible.cmake)
set(CPACK_POST_BUILD_SCRIPTS ${CMAKE_CURRENT_SOURCE_DIR}/tools/package/release-note.cmake)
set(CPACK_PACKAGE_NAME counterspot)
set(CPACK_PACKAGE_CONTACT "The Counterspot authors <authors@counterspot.example>")
set(CPACK_PACKAGING_INSTALL_PREFIX /usr)
set(CPACK_STRIP_FILES ON)
set(CPACK_INSTALL_DEFAULT_DIRECTORY_PERMISSIONS OWNER_READ OWNER_WRITE OWNER_EXECUTE GROUP_READ GROUP_EXECUTE WORLD_READ WORLD_EXECUTE)
set(CPACK_DEBIAN_FILE_NAME DEB-DEFAULT)
set(CPACK_DEBIAN_PACKAGE_SECTION science)
set(CPACK_COMPONENT_UNSPECIFIED_DESCRIPTION "From recordings of two accelerometers and a once-per-revolution tach to how
much weight belongs where at each end, how sure that is, and whether the
residual unbalance is within the grade; with a page at the rig, a quality log
and balance sheets.")
set(CPACK_DEBIAN_PACKAGE_CONTROL_EXTRA ${CMAKE_CURRENT_SOURCE_DIR}/tools/package/triggers)
set(CPACK_DEBIAN_PACKAGE_SHLIBDEPS ON)
set(CPACK_DEBIAN_PACKAGE_GENERATE_SHLIBS ON)
set(CPACK_DEBIAN_PACKAGE_DEPENDS fonts-osifont)
set(CPACK_DEBIAN_PACKAGE_RECOMMENDS libsoci-postgresql4.0)  # loaded when the log is on a server
set(CPACK_DEBIAN_PACKAGE_SUGGESTS "libeigen3-dev, libfmt-dev, nlohmann-json3-dev, libtomlplusplus-dev, pkg-config, \
libsndfile1-dev, libfftw3-dev, libsqlite3-dev, nettle-dev, libasound2-dev, libsoci-dev")  # to build with the C++ library
set(CPACK_DEB_COMPONENT_INSTALL ON)
set(CPACK_DEBIAN_UNSPECIFIED_PACKAGE_NAME counterspot)
set(CPACK_DEBIAN_PYTHON_PACKAGE_NAME python3-counterspot)
set(CPACK_COMPONENT_PYTHON_DESCRIPTION "Counterspot from Python: NumPy arrays in, values with their uncertainty out")
set(CPACK_DEBIAN_PYTHON_PACKAGE_SECTION python)
set(CPACK_DEBIAN_PYTHON_PACKAGE_ARCHITECTURE all)
set(CPACK_DEBIAN_PYTHON_PACKAGE_DEPENDS "counterspot (= ${PROJECT_VERSION}), python3 (>= 3.11), python3-numpy")
set(CPACK_DEBIAN_PYTHON_PACKAGE_CONTROL_EXTRA ${CMAKE_CURRENT_SOURCE_DIR}/tools/package/python3/postinst
    ${CMAKE_CURRENT_SOURCE_DIR}/tools/package/python3/prerm)
set(CPACK_DEBIAN_PYTHON_PACKAGE_RECOMMENDS "")
set(CPACK_DEBIAN_PYTHON_PACKAGE_SUGGESTS "")
include(CPack)
