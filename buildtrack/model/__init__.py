"""What a build and a checklist are: plain frozen data, no files, no screens."""
