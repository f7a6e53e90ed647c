if(LAYPROOF_SANITIZE)
  add_compile_options(-fsanitize=${LAYPROOF_SANITIZE} -fno-sanitize-recover=all
    -fno-omit-frame-pointer -g1)
  add_link_options(-fsanitize=${LAYPROOF_SANITIZE})
endif()
