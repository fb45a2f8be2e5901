"""What people ask: case files, the main question, the studies, the bench and what is shown."""
