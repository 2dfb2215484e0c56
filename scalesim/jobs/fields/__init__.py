"""Fields: what successive fields carry."""
