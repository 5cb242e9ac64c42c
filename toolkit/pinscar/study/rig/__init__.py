"""Rig control: the reference oil's charts."""
