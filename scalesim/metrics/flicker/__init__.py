"""What alternates or tears between fields."""
