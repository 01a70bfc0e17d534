"""What things are: frozen records that read back as they were written."""
