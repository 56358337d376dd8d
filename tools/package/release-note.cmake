# After the packages, before they are laid where they were asked for: the release note beside them.
execute_process(COMMAND ${CMAKE_CURRENT_LIST_DIR}/release-note ${CMAKE_CURRENT_LIST_DIR}/../../DEVELOPERS.md ${CPACK_PACKAGE_VERSION}
                        ${CPACK_PACKAGE_FILES}
                OUTPUT_FILE ${CPACK_PACKAGE_DIRECTORY}/${CPACK_PACKAGE_NAME}_${CPACK_PACKAGE_VERSION}.md COMMAND_ERROR_IS_FATAL ANY)
