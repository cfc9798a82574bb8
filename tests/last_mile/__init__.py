"""One whole job, from the file to every surface the crew reads, against hand statics."""
