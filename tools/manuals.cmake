# What is made of the table of keys.
set(schemas ${CMAKE_CURRENT_BINARY_DIR}/printed_schemas)
set(print_schemas)
foreach(kind rig shaft spins stock)
  list(APPEND print_schemas COMMAND counterspot_program manual ${kind}-file --schema > ${schemas}/${kind}.schema.json)
endforeach()
add_custom_command(TARGET counterspot_program POST_BUILD COMMAND ${CMAKE_COMMAND} -E make_directory ${schemas} ${print_schemas})
install(DIRECTORY ${schemas}/ DESTINATION ${CMAKE_INSTALL_DATADIR}/counterspot/schema)
