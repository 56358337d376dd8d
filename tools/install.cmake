# What `cmake --install` lays down, and how find_package(Counterspot) finds it again.
include(CMakePackageConfigHelpers)

install(TARGETS counterspot EXPORT CounterspotTargets ARCHIVE DESTINATION ${CMAKE_INSTALL_LIBDIR})
install(TARGETS counterspot_ink counterspot_http LIBRARY DESTINATION ${CMAKE_INSTALL_LIBDIR}/counterspot)
install(TARGETS counterspot_program RUNTIME DESTINATION ${CMAKE_INSTALL_BINDIR})
install(DIRECTORY include/counterspot DESTINATION ${CMAKE_INSTALL_INCLUDEDIR})
install(FILES ${CMAKE_CURRENT_BINARY_DIR}/generated/counterspot/version.hpp DESTINATION ${CMAKE_INSTALL_INCLUDEDIR}/counterspot)
install(EXPORT CounterspotTargets NAMESPACE counterspot:: DESTINATION ${CMAKE_INSTALL_LIBDIR}/cmake/Counterspot)
configure_package_config_file(tools/CounterspotConfig.cmake.in ${CMAKE_CURRENT_BINARY_DIR}/CounterspotConfig.cmake
  INSTALL_DESTINATION ${CMAKE_INSTALL_LIBDIR}/cmake/Counterspot)
write_basic_package_version_file(${CMAKE_CURRENT_BINARY_DIR}/CounterspotConfigVersion.cmake COMPATIBILITY SameMinorVersion)
install(FILES ${CMAKE_CURRENT_BINARY_DIR}/CounterspotConfig.cmake ${CMAKE_CURRENT_BINARY_DIR}/CounterspotConfigVersion.cmake
  DESTINATION ${CMAKE_INSTALL_LIBDIR}/cmake/Counterspot)

# The completion script is printed by the program itself, so that it knows every command and option there is.
add_custom_command(TARGET counterspot_program POST_BUILD
  COMMAND counterspot_program completion > ${CMAKE_CURRENT_BINARY_DIR}/counterspot.bash VERBATIM)
install(FILES ${CMAKE_CURRENT_BINARY_DIR}/counterspot.bash DESTINATION ${CMAKE_INSTALL_DATADIR}/bash-completion/completions RENAME counterspot)
