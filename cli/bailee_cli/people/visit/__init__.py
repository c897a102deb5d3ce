"""The inspector's visit: planned, packed for, opened, collected cassette by cassette."""
