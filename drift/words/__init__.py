"""Every sentence, made of codes and numbers; nothing reads a sentence again."""
