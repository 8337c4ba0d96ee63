"""The full-screen program: bench, review and shelf. Importing this loads nothing; see app.run."""
