"""The API: what the pages do, for programs; JSON at ``/api``, described by OpenAPI."""
