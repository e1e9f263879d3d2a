"""What makes pages, schemas and checks of the repository; no part of the program."""
