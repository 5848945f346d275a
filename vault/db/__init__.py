"""Tables, queries and transactions. The only room that knows SQLAlchemy."""
