"""Forms of the work's pages: they read what was typed; what cannot be is the operations' to say."""
