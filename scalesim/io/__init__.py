"""Files: pictures in and out, output folders, documents."""
