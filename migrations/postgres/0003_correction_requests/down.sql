DROP TABLE correction_requests;
