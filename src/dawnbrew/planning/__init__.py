"""Decides which treatment goes where and which batch is started when."""
