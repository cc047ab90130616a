"""Matrix: plain and encrypted rooms, over the desk."""
