"""How tall, wide and jagged edges became."""
