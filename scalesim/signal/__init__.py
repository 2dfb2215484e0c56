"""What a picture is as a signal, and what a sequence of pictures may do to its viewer."""
