# What is made of the table of keys and of the manuals. Without cmark-gfm (tools/packages-for-manuals) manuals stay Markdown, without
# weasyprint there is no PDF; the demo and the tests ask for neither.
set(schemas ${CMAKE_CURRENT_BINARY_DIR}/printed_schemas)
set(print_schemas)
foreach(kind rig shaft spins stock shop)
  list(APPEND print_schemas COMMAND counterspot_program manual ${kind}-file --schema > ${schemas}/${kind}.schema.json)
endforeach()
add_custom_command(TARGET counterspot_program POST_BUILD COMMAND ${CMAKE_COMMAND} -E make_directory ${schemas} ${print_schemas})
install(DIRECTORY ${schemas}/ DESTINATION ${CMAKE_INSTALL_DATADIR}/counterspot/schema)

find_program(COUNTERSPOT_CMARK cmark-gfm)
if(COUNTERSPOT_CMARK AND NOT COUNTERSPOT_SANITIZE AND NOT COUNTERSPOT_SANITIZE_THREADS)
  set(made ${CMAKE_CURRENT_BINARY_DIR}/manuals)
  file(GLOB texts CONFIGURE_DEPENDS src/manual/*)
  add_custom_command(OUTPUT ${made}/index.html
    COMMAND ${CMAKE_CURRENT_SOURCE_DIR}/tools/package/manuals "$<JOIN:${CMAKE_CROSSCOMPILING_EMULATOR}, > $<TARGET_FILE:counterspot_program>"
            ${CMAKE_CURRENT_SOURCE_DIR} ${made}
    DEPENDS counterspot_program tools/package/manuals tools/package/pdf.py ${texts})
  add_custom_target(manuals ALL DEPENDS ${made}/index.html)
  add_dependencies(installable manuals)
  install(DIRECTORY ${made}/ DESTINATION ${docs})
else()
  install(DIRECTORY src/manual/ DESTINATION ${docs})
endif()
