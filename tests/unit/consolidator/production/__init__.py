"""Tests of set-ups and lots as their pages tell them."""
