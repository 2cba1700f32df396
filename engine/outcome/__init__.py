"""What a plan is told as: the wanted field, the report, the previews, the header and the facts of the setup sheet."""
