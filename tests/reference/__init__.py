"""The whole neck as a solid: an outside program's answer, stored, beside ours."""
