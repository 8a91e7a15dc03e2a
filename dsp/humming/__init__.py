"""Mains hum as evidence: its lines, their levels from take to take, their phases within one."""
