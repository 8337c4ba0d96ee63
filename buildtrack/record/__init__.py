"""The record of a build for others: page content, drawings, PDF, HTML, label, parts list."""
