"""What commands write for people, on the terminal or as a drawing."""
