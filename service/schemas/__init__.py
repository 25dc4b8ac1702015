"""What people may write, as marshmallow schemas: plans and their rows."""
